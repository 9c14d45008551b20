//! The simulation's own checks: what was put in is what is said to be true.

use super::*;

#[test]
fn a_clean_start_has_its_instants_where_they_were_put() {
    let made = simulate(&Scenario::default());
    let truth = &made.truth[0];
    let at = |t: Option<f64>| t.expect("it lights");
    assert!((at(truth.t_open_s) - 0.3).abs() < 1e-4);
    assert!((at(truth.t_first_s) - 0.34).abs() < 1e-4);
    assert_eq!(truth.t_lit_s, truth.t_first_s);
    // First order from 0: within 10 % after ln 10 time constants (analytic), machine's 0.4 ms.
    let settle = at(truth.t_settled_s) - at(truth.t_lit_s);
    assert!((settle - 10f64.ln() * 0.4e-3).abs() < 0.15e-3, "{settle}");
    assert!((at(truth.t_out_s) - 1.54).abs() < 2e-3);
    assert_eq!((truth.attempts, truth.dropouts, truth.touches), (1, 0, 0));
    assert!((at(truth.run_a) - 80.0).abs() < 0.1);
}

#[test]
fn the_same_scenario_gives_the_same_bits() {
    let scenario = Scenario {
        logger: LoggerModel::decent(300.0, 120.0, 0.3),
        ..Scenario::default()
    };
    let (a, b) = (simulate(&scenario), simulate(&scenario));
    assert_eq!(a.amps, b.amps);
    assert_eq!(a.volts, b.volts);
}

#[test]
fn failed_tries_dropouts_and_touches_are_counted_as_they_were_put() {
    let made = simulate(&Scenario {
        strikes: vec![Strike {
            tries: vec![
                Try {
                    lasts_s: 0.004,
                    pause_s: 0.09,
                },
                Try {
                    lasts_s: 0.008,
                    pause_s: 0.2,
                },
            ],
            dropouts: vec![Upset {
                at_s: 0.4,
                lasts_s: 0.005,
            }],
            touches: vec![Upset {
                at_s: 0.6,
                lasts_s: 0.03,
            }],
            ..Strike::default()
        }],
        ..Scenario::default()
    });
    let truth = &made.truth[0];
    assert_eq!((truth.attempts, truth.dropouts, truth.touches), (3, 1, 1));
    assert!((truth.dropout_ms - 5.0).abs() < 0.2, "{}", truth.dropout_ms);
}
