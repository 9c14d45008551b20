//! Contents of a recording, for the terminal.

use crate::format::short;
use crate::recording::{Cell, Fitted, Inspection, Level};
use crate::text::{Sketch, TermStyle, plain, sketch};

/// Height of a sketch, rows.
const ROWS: usize = 5;

/// Formats an inspection: contents, sketches, findings and a `[logger]` block.
pub fn inspection(seen: &Inspection, look: TermStyle) -> String {
    let gaps = match seen.gaps {
        0 => String::new(),
        1 => ", 1 gap".to_owned(),
        n => format!(", {n} gaps"),
    };
    let mut out = format!(
        "{}\n{}, {} Hz, {} s{gaps}\n\n",
        look.heading(&plain(&seen.recording)),
        seen.kind,
        short(seen.rate_hz),
        short(seen.seconds)
    );
    for channel in &seen.channels {
        let title = channel
            .title
            .as_deref()
            .map_or(String::new(), |t| format!(" \"{}\"", plain(t)));
        let role = channel.role.unwrap_or("not used");
        let reason = match channel.reason {
            Some(why) => format!(" ({why})"),
            None if channel.numbers => String::new(),
            None => " (holds no numbers)".to_owned(),
        };
        out += &format!("  {}{title}: {role}{reason}\n", channel.channel);
    }
    out.push('\n');
    out += &trace("current", &seen.current, seen, look, |c| c.amps);
    if let Some(voltage) = &seen.voltage {
        out += &trace("voltage", voltage, seen, look, |c| c.volts);
    }
    if let Some(amps) = seen.smallest_a {
        out += &format!("Smallest detectable current: {} A\n\n", short(amps));
    }
    out += &findings(seen, look);
    out += &format!("\n{}", plain_lines(&seen.logger_block));
    out
}

/// Formats a scale fitted to known loads.
pub fn fitted(fit: &Fitted) -> String {
    let mut out = format!(
        "From the known loads (uncertainties k = 2, from the scatter of the trace alone):\n  {} = {} ± {}\n",
        fit.key,
        short(fit.scale),
        short(fit.u_scale)
    );
    if let (Some(offset), Some(u)) = (fit.offset, fit.u_offset) {
        out += &format!("  offset = {} ± {}\n", short(offset), short(u));
    }
    for caution in &fit.cautions {
        out += &format!("  Look again: {caution}\n");
    }
    out + "Add the uncertainty of the meter you read the current from, as tolerance_pct.\n"
}

fn trace(
    name: &str,
    level: &Level,
    seen: &Inspection,
    look: TermStyle,
    of: impl Fn(&Cell) -> [f32; 3],
) -> String {
    let unit = level.unit;
    let noise = level.noise.map_or("never at rest".to_owned(), |n| {
        format!("noise {} {unit} rms at rest", short(n))
    });
    let (low, high) = (short(level.low), short(level.high));
    let label = format!("{name}: {low} to {high} {unit}, {noise}");
    let cells = &seen.survey.cells;
    let columns: Vec<[f32; 2]> = cells.iter().map(|c| [of(c)[0], of(c)[1]]).collect();
    let preview = Sketch {
        label: &label,
        columns: &columns,
        from_s: 0.0,
        to_s: seen.seconds,
        marks: &[],
    };
    sketch(&preview, look.width, ROWS) + "\n"
}

fn findings(seen: &Inspection, look: TermStyle) -> String {
    if seen.findings.is_empty() {
        return "Looks fit to measure.\n".to_owned();
    }
    let mut out = format!("{}\n", look.heading("What to look at"));
    for finding in &seen.findings {
        out += &format!(
            "  {}: {}\n    {}\n",
            finding.flag.name(),
            plain(&finding.seen.to_string()),
            finding.flag.sentence()
        );
    }
    out
}

/// Foreign lines, each escaped.
fn plain_lines(text: &str) -> String {
    text.lines().map(|line| plain(line) + "\n").collect()
}
