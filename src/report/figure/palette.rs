//! Colours of the figures and of the page, each for day and night.
//!
//! Figures are drawn in day colours; [`style`] replaces them with night colours if the reader's screen prefers dark.
//! No meaning rests on colour alone: lines differ by dash, points by mark.

use plotters::style::RGBColor;

/// A colour for day and night, `0xRRGGBB`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Theme {
    /// Name of the CSS variable.
    pub name: &'static str,
    /// On light paper.
    pub day: u32,
    /// On a dark screen.
    pub night: u32,
}

impl Theme {
    const fn new(name: &'static str, day: u32, night: u32) -> Theme {
        Theme { name, day, night }
    }

    /// The colour in which figures are drawn.
    pub(super) const fn rgb(self) -> RGBColor {
        RGBColor(
            (self.day >> 16) as u8,
            (self.day >> 8) as u8,
            self.day as u8,
        )
    }
}

pub(super) const PAPER: Theme = Theme::new("paper", 0xFFFFFF, 0x15191E);
pub(super) const INK: Theme = Theme::new("ink", 0x1B2026, 0xE8EAED);
pub(super) const MUTED: Theme = Theme::new("muted", 0x565F6A, 0xA9B2BD);
pub(super) const RULE: Theme = Theme::new("rule", 0xDDE1E6, 0x343B44);
pub(super) const CURRENT: Theme = Theme::new("current", 0x0B5CAB, 0x82BCF4);
pub(super) const VOLTAGE: Theme = Theme::new("voltage", 0xA84609, 0xF2A766);
pub(super) const ALARM: Theme = Theme::new("alarm", 0xB0201A, 0xFF9F96);
pub(super) const BAND_OPEN: Theme = Theme::new("band-open", 0xE9ECEF, 0x262C33);
pub(super) const BAND_ATTEMPTS: Theme = Theme::new("band-attempts", 0xF7D1BC, 0x5A3620);
pub(super) const BAND_SETTLING: Theme = Theme::new("band-settling", 0xF5E7B4, 0x3A3415);
pub(super) const BAND_SETTLED: Theme = Theme::new("band-settled", 0xF0FAF2, 0x11261A);

/// Colours of preps in order; they repeat after the last, and the marks distinguish them.
pub(super) const PREPS: [Theme; 6] = [
    Theme::new("prep-1", 0x0B5CAA, 0x82BCF3),
    Theme::new("prep-2", 0xA84608, 0xF2A765),
    Theme::new("prep-3", 0x0A7350, 0x63CFA6),
    Theme::new("prep-4", 0x8A3789, 0xE09BDF),
    Theme::new("prep-5", 0x6A5F00, 0xD8CB5A),
    Theme::new("prep-6", 0x4A5561, 0xB9C3CE),
];

/// Every colour.
pub fn colours() -> impl Iterator<Item = Theme> {
    let own = [
        PAPER,
        INK,
        MUTED,
        RULE,
        CURRENT,
        VOLTAGE,
        ALARM,
        BAND_OPEN,
        BAND_ATTEMPTS,
        BAND_SETTLING,
        BAND_SETTLED,
    ];
    own.into_iter().chain(PREPS)
}

/// CSS that shows figures in night colours if the reader's screen prefers dark; print stays light.
pub fn style() -> String {
    let rules: String = colours()
        .map(|Theme { day, night, .. }| {
            format!("svg [fill=\"#{day:06X}\"]{{fill:#{night:06X}}}svg [stroke=\"#{day:06X}\"]{{stroke:#{night:06X}}}")
        })
        .collect();
    format!("@media screen and (prefers-color-scheme:dark){{{rules}}}")
}

#[cfg(test)]
#[path = "palette_tests.rs"]
mod tests;
