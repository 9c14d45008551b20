//! What a command costs: its time by the clock and of the processor, and its highest resident memory; printed as rows of a table.

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

/// Head of the table.
pub fn head(input: &str) {
    println!("| {input} | command | s | CPU s | ratio | of | peak MiB |");
    println!("| --- | --- | --- | --- | --- | --- | --- |");
}

/// Runs a command once uncounted, then [`RUNS`] times; prints the medians and the ratio of the time to another's.
pub fn row(
    input: &str,
    command: &str,
    of: Option<(&str, f64)>,
    mut run: impl FnMut() -> Cost,
) -> f64 {
    run();
    let mut worked = Vec::new();
    let mut costs: Vec<Cost> = (0..RUNS)
        .map(|_| {
            let before = processor_s();
            let cost = run();
            worked.push(processor_s() - before);
            cost
        })
        .collect();
    costs.sort_by(|a, b| a.seconds.total_cmp(&b.seconds));
    worked.sort_by(f64::total_cmp);
    let (median, worked) = (costs[RUNS / 2].seconds, worked[RUNS / 2]);
    let peak = costs.iter().map(|c| c.peak_mib).fold(0.0, f64::max);
    let (ratio, name) = of.map_or((String::new(), ""), |(name, other)| {
        (format!("{:.2}", median / other), name)
    });
    let peak = if peak > 0.0 {
        format!("{peak:.1}")
    } else {
        String::new()
    };
    println!("| {input} | {command} | {median:.3} | {worked:.2} | {ratio} | {name} | {peak} |");
    median
}

/// Processor time of this process and of the children it waited for, s.
fn processor_s() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").expect("Linux");
    let (_, behind_name) = stat.rsplit_once(')').expect("a name in brackets");
    // Fields 14 to 17 of proc(5), in hundredths of a second; the third is the first behind the name.
    let fields = behind_name.split_whitespace().skip(11).take(4);
    fields
        .map(|f| f.parse::<f64>().expect("a number"))
        .sum::<f64>()
        / 100.0
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
