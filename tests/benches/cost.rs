//! What a command costs: its time, and its highest resident memory; printed as rows of a table.

use std::process::Child;
use std::time::Duration;

/// Counted runs of each command.
pub const RUNS: usize = 5;

/// What one run cost.
pub struct Cost {
    /// Wall-clock time.
    pub seconds: f64,
    /// 0 where it was not looked at.
    pub peak_mib: f64,
}

/// Runs a command once uncounted, then [`RUNS`] times; prints the median and the ratio to another's.
pub fn row(
    input: &str,
    command: &str,
    of: Option<(&str, f64)>,
    mut run: impl FnMut() -> Cost,
) -> f64 {
    run();
    let mut costs: Vec<Cost> = (0..RUNS).map(|_| run()).collect();
    costs.sort_by(|a, b| a.seconds.total_cmp(&b.seconds));
    let median = costs[RUNS / 2].seconds;
    let peak = costs.iter().map(|c| c.peak_mib).fold(0.0, f64::max);
    let (ratio, name) = of.map_or((String::new(), ""), |(name, other)| {
        (format!("{:.2}", median / other), name)
    });
    let peak = if peak > 0.0 {
        format!("{peak:.1}")
    } else {
        String::new()
    };
    println!("| {input} | {command} | {median:.3} | {ratio} | {name} | {peak} |");
    median
}

/// Waits for a program; gives its exit code and its highest resident memory, MiB.
pub fn watched(child: &mut Child) -> (i32, f64) {
    let status = format!("/proc/{}/status", child.id());
    let mut peak_mib = 0.0_f64;
    let done = loop {
        if let Some(done) = child.try_wait().expect("it can be waited for") {
            break done;
        }
        peak_mib = peak_mib.max(high_water(&status).unwrap_or(0.0));
        std::thread::sleep(Duration::from_millis(2));
    };
    (done.code().unwrap_or(-1), peak_mib)
}

fn high_water(status: &str) -> Option<f64> {
    let text = std::fs::read_to_string(status).ok()?;
    let line = text.lines().find(|l| l.starts_with("VmHWM:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1024.0)
}
