use super::*;

/// Relative luminance after WCAG 2.2, "relative luminance".
fn luminance(colour: u32) -> f64 {
    let part = |shift: u32| {
        let c = f64::from(colour >> shift & 0xFF) / 255.0;
        if c <= 0.04045 {
            c / 12.92
        } else {
            ((c + 0.055) / 1.055).powf(2.4)
        }
    };
    0.2126 * part(16) + 0.7152 * part(8) + 0.0722 * part(0)
}

/// Contrast ratio after WCAG 2.2, "contrast ratio".
fn contrast(a: u32, b: u32) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn contrast_is_computed_as_wcag_does() {
    // Black on white is 21:1; #767676 on white is the well-known lightest grey to pass 4.5:1 (from memory).
    assert!((contrast(0, 0xFFFFFF) - 21.0).abs() < 1e-9);
    assert!(contrast(0x767676, 0xFFFFFF) >= 4.5 && contrast(0x777777, 0xFFFFFF) < 4.5);
}

#[test]
fn letters_and_lines_stand_out_by_day_and_by_night() {
    // WCAG 2.2 AA: 4.5:1 for text (1.4.3), 3:1 for what is needed to understand a graphic (1.4.11).
    let lines = [CURRENT, VOLTAGE, ALARM].into_iter().chain(PREPS);
    let text = [INK, MUTED];
    let grounds = [PAPER, BAND_OPEN, BAND_ATTEMPTS, BAND_SETTLING, BAND_SETTLED];
    for (ground, of) in grounds.iter().flat_map(|ground| [(ground, 0), (ground, 1)]) {
        let pick = |theme: &Theme| if of == 0 { theme.day } else { theme.night };
        for theme in text {
            assert!(
                contrast(pick(&theme), pick(ground)) >= 4.5,
                "{} on {}",
                theme.name,
                ground.name
            );
        }
        for theme in lines.clone() {
            let least = if *ground == PAPER { 4.5 } else { 3.0 };
            assert!(
                contrast(pick(&theme), pick(ground)) >= least,
                "{} on {}",
                theme.name,
                ground.name
            );
        }
    }
}

#[test]
fn each_colour_is_told_from_every_other_by_its_day_value() {
    // The night rules find a colour by its day value.
    let mut all: Vec<u32> = colours().map(|theme| theme.day).collect();
    all.sort_unstable();
    all.dedup();
    assert_eq!(all.len(), colours().count());
}

/// Lightness after CIE 1976 L*a*b* (ISO/CIE 11664-4), 0 to 100.
fn lightness(colour: u32) -> f64 {
    116.0 * luminance(colour).cbrt() - 16.0
}

#[test]
fn bands_that_meet_differ_in_grey_print() {
    // Five steps of lightness beside each other are told apart at a glance (common practice, no source).
    let bands = [BAND_OPEN, BAND_ATTEMPTS, BAND_SETTLING, BAND_SETTLED];
    for pair in bands.windows(2) {
        let [a, b] = [pair[0].day, pair[1].day].map(lightness);
        assert!((a - b).abs() >= 5.0, "{a} and {b}: {pair:?}");
    }
}
