//! What a lead that fell off makes of the starts about it.

use crate::measure::Measures;
use crate::start::{Doubt, Instants, Start, one_sided};

fn start(open: Option<f64>, first: f64, lit: Option<f64>) -> Start {
    Start {
        instants: Instants {
            t_open_s: open,
            t_first_s: Some(first),
            t_lit_s: lit,
            ..Instants::default()
        },
        measures: Measures::default(),
        flags: Vec::new(),
        doubts: Vec::new(),
        preview: None,
    }
}

/// The voltage's lead falls off between the first try of the second start and the next: what is left of that start is a try without a
/// voltage, and an arc that shows none for 1.2 s. All three are doubtful, and the start before them is not.
#[test]
fn a_start_whose_next_tries_have_no_voltage_is_doubtful_too() {
    let mut starts = [
        start(Some(0.6), 0.7, Some(1.4)),
        start(Some(3.0), 3.1, None),
        start(None, 3.4, None),
        start(None, 4.1, None),
    ];
    starts[3].doubt(Doubt::NoVoltage {
        amps: 48.0,
        for_s: 1.2,
    });
    one_sided(&mut starts);
    let doubted = starts.map(|start| !start.doubts.is_empty());
    assert_eq!(doubted, [false, true, true, true]);
}
