//! Starts told one by one: how soon, under which number, and none twice.

use tipstrike::measuring::gather::job_by_rules;
use tipstrike::measuring::live::Follow;

/// A row of 2 kHz: open for 0.1 s before each arc, 100 A at 14 V in it, else a rest.
fn row(k: usize, arcs: &[(f64, f64)]) -> String {
    let t = k as f64 / 2000.0;
    let (amps, volts) = match arcs
        .iter()
        .find(|(lit, out)| (lit - 0.1..*out).contains(&t))
    {
        Some((lit, _)) if t < *lit => (0.0, 70.0),
        Some(_) => (100.0, 14.0),
        None => (0.0, 0.0),
    };
    let noise = (k * 7 % 11) as f64 / 100.0;
    format!("{t:.4},{:.2},{:.2}\n", amps + noise, volts + noise)
}

/// When each start is told, s, with its number, as rows come in by 0.05 s.
fn told(arcs: &[(f64, f64)], seconds: f64) -> Vec<(f64, u32)> {
    let job = job_by_rules(None, None, &["stream.csv".into()]).unwrap();
    let mut follow = Follow::new(&job, &job.runs[0]).unwrap();
    follow.push(b"time (s),current (A),voltage (V)\n").unwrap();
    let mut told = Vec::new();
    for first in (0..(2000.0 * seconds) as usize).step_by(100) {
        let rows: String = (first..first + 100).map(|k| row(k, arcs)).collect();
        let now = (first + 100) as f64 / 2000.0;
        let new = follow.push(rows.as_bytes()).unwrap();
        told.extend(new.iter().map(|row| (now, row.start)));
    }
    let rest = follow.finish().unwrap();
    told.extend(rest.iter().map(|row| (f64::INFINITY, row.start)));
    told
}

/// The window is 1 s behind the light and 0.05 s are waited for; it is looked each 0.25 s, so an arc lit at 1.25 s is told at
/// 2.5 s and not at 2.25 s. One that is out early is told as soon as it is seen to be out.
#[test]
fn a_start_is_told_when_its_window_is_over_and_not_before() {
    let found = told(&[(1.25, 3.0), (5.25, 5.5), (7.25, 9.5)], 9.0);
    let numbers: Vec<u32> = found.iter().map(|(_, number)| *number).collect();
    assert_eq!(numbers, [1, 2, 3], "{found:?}");
    assert!((2.5..2.6).contains(&found[0].0), "{found:?}");
    assert!((5.65..6.3).contains(&found[1].0), "{found:?}");
    assert!((8.5..8.6).contains(&found[2].0), "{found:?}");
}

/// An arc that burns at the end of what came, its window not over, is told when no more comes; also where all that came was
/// looked at already.
#[test]
fn what_is_under_way_at_the_end_is_told_then() {
    for seconds in [2.0, 2.1, 2.25] {
        assert_eq!(
            told(&[(1.25, 9.0)], seconds),
            [(f64::INFINITY, 1)],
            "{seconds} s"
        );
    }
}

/// Samples are missing behind 2 s, which was looked at, or behind 2.1 s: the start before is told, and so is the one after.
#[test]
fn missing_samples_end_what_was_looked_at_and_nothing_else() {
    for (from, to) in [(4000, 4800), (4200, 4800)] {
        let job = job_by_rules(None, None, &["stream.csv".into()]).unwrap();
        let mut follow = Follow::new(&job, &job.runs[0]).unwrap();
        follow.push(b"time (s),current (A),voltage (V)\n").unwrap();
        let mut told = Vec::new();
        for first in (0..12_000).step_by(100).filter(|k| !(from..to).contains(k)) {
            let rows: String = (first..first + 100)
                .map(|k| row(k, &[(1.25, 2.4), (3.5, 5.2)]))
                .collect();
            told.extend(
                follow
                    .push(rows.as_bytes())
                    .unwrap()
                    .iter()
                    .map(|row| row.start),
            );
        }
        assert_eq!(told, [1, 2], "{from}");
        assert!(follow.finish().unwrap().is_empty());
    }
}
