//! Bytes as the plan of a trace: what the finder makes of any sequence of states.

use tipstrike::recording::Recording;
use tipstrike::start::Start;

use super::recording;

/// Bytes of the head: rate, noise, whether there is a voltage.
const HEAD: usize = 3;
/// Bytes of a stretch: state, level, length, ripple.
const STRETCH: usize = 4;
/// Frames of a plan at most.
const FRAMES: usize = 20_000;
const RATES_HZ: [f64; 6] = [500.0, 1000.0, 5000.0, 10_000.0, 48_000.0, 192_000.0];

/// Starts hold, and turning the signs of both traces over changes no instant of them.
pub fn detect(bytes: &[u8]) {
    let Some((head, plan)) = bytes.split_at_checked(HEAD) else {
        return;
    };
    let rate_hz = RATES_HZ[usize::from(head[0]) % RATES_HZ.len()];
    let (amps, mut volts) = traces(plan, f64::from(head[1]) / 100.0, rate_hz);
    // A file without a sample is refused before there is a recording.
    if amps.is_empty() {
        return;
    }
    if head[2] % 4 == 0 {
        volts.clear();
    }
    let found = found(rate_hz, &amps, &volts, 1.0);
    let turned = self::found(rate_hz, &amps, &volts, -1.0);
    assert_eq!(
        found.len(),
        turned.len(),
        "starts with the signs turned over"
    );
    for (start, turned) in found.iter().zip(&turned) {
        assert_eq!(
            start.instants, turned.instants,
            "instants with the signs turned over"
        );
    }
}

fn found(rate_hz: f64, amps: &[f64], volts: &[f64], sign: f64) -> Vec<Start> {
    let turned = |values: &[f64]| values.iter().map(|x| x * sign).collect();
    let recording = Recording::from_samples("fuzz", rate_hz, turned(amps), turned(volts));
    recording::recording_holds(&recording)
}

fn traces(plan: &[u8], noise: f64, rate_hz: f64) -> (Vec<f64>, Vec<f64>) {
    let (mut amps, mut volts) = (Vec::new(), Vec::new());
    for stretch in plan.chunks_exact(STRETCH) {
        let [state, level, length, ripple] = *stretch else {
            continue;
        };
        // From 1 sample to some seconds, evenly on a scale of ratios.
        let frames = 1.06_f64.powi(length.into()) as usize;
        for _ in 0..frames.min(FRAMES - amps.len()) {
            let k = amps.len();
            let (i, v) = frame(state, f64::from(level), k as f64 / rate_hz);
            let wave = f64::from(ripple) / 64.0 * ((k % 97) as f64 / 48.0 - 1.0);
            let hash = noise * (((k * 7919) % 101) as f64 / 50.0 - 1.0);
            amps.push(i + hash + i.signum() * wave);
            volts.push(v + hash + wave);
        }
    }
    (amps, volts)
}

/// Current and voltage in a state.
fn frame(state: u8, level: f64, t: f64) -> (f64, f64) {
    match state % 10 {
        0 => (0.0, 0.0),
        1 => (0.0, 70.0),
        2 => (level, 10.0 + 0.04 * level),
        3 => (-level, -10.0 - 0.04 * level),
        4 => (level, 1.0),
        5 => (0.0, level),
        // AC of 20 to 275 Hz, pulses of up to 25 Hz, a slow rise.
        6 if (t * (20.0 + level)).fract() < 0.6 => (80.0, 13.0),
        6 => (-80.0, -15.0),
        7 if (t * level / 10.0).fract() < 0.5 => (100.0, 14.0),
        7 => (30.0, 11.0),
        8 => (level * t.fract(), 12.0),
        _ => (level * 1e4, -level * 1e4),
    }
}
