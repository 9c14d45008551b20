//! Answers become text, tables, figures and the page.
