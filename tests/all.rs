//! Every test of the program and the library in one binary, so that the library is linked once.
//!
//! `tests/accuracy.rs` and `tests/study_coverage.rs` stand beside it: they are run alone, with a long form.

#[path = "agreement.rs"]
mod agreement;
#[path = "attack/main.rs"]
mod attack;
#[path = "begin.rs"]
mod begin;
#[path = "demo.rs"]
mod demo;
#[path = "faults/main.rs"]
mod faults;
#[path = "found.rs"]
mod found;
#[path = "help.rs"]
mod help;
#[path = "house/main.rs"]
mod house;
#[path = "kept.rs"]
mod kept;
#[path = "live.rs"]
mod live;
#[path = "long_form.rs"]
mod long_form;
#[path = "measures/main.rs"]
mod measures;
#[path = "memory.rs"]
mod memory;
#[path = "messages/main.rs"]
mod messages;
#[path = "month.rs"]
mod month;
#[path = "nights.rs"]
mod nights;
#[path = "open_records.rs"]
mod open_records;
#[cfg(feature = "parquet")]
#[path = "plant.rs"]
mod plant;
#[path = "prep/main.rs"]
mod prep;
#[path = "program.rs"]
mod program;
#[path = "properties.rs"]
mod properties;
#[path = "readme.rs"]
mod readme;
#[path = "recording/main.rs"]
mod recording;
#[path = "recordings.rs"]
mod recordings;
#[path = "rehearse.rs"]
mod rehearse;
#[path = "report.rs"]
mod report;
#[path = "safe/main.rs"]
mod safe;
#[path = "strike.rs"]
mod strike;
#[path = "study_charts.rs"]
mod study_charts;
#[path = "study_compare/main.rs"]
mod study_compare;
#[path = "study_edges/main.rs"]
mod study_edges;
#[path = "study_formulas.rs"]
mod study_formulas;
#[path = "study_published/main.rs"]
mod study_published;
#[path = "study_reference.rs"]
mod study_reference;
#[path = "study_screen.rs"]
mod study_screen;
#[path = "study_screen_groups.rs"]
mod study_screen_groups;
#[path = "study_support/mod.rs"]
mod study_support;
#[path = "study_tips.rs"]
mod study_tips;
#[path = "study_twins.rs"]
mod study_twins;
#[path = "supply.rs"]
mod supply;
#[path = "tips_reference.rs"]
mod tips_reference;
#[path = "truth.rs"]
mod truth;
#[path = "wear_reference.rs"]
mod wear_reference;
#[path = "whole.rs"]
mod whole;
