//! The arc as a conductance with a memory: Cassie where the current is large, Mayr where it is small.
//!
//! Cassie: d(g²)/dt = (2/τ)·((i/U_c)² − g²). Mayr: dg/dt = (1/τ)·(i²/P₀ − g). Both are solved exactly over a step of
//! constant current. They are blended by exp(−(i/I₀)²), as by Marszalek (2016, arXiv:1601.01612, eq. 1–2). No published
//! parameter set for a TIG arc is known; the values here are this project's choice.

/// Thermal time constant of the column, s.
pub const TAU_S: f64 = 60e-6;
/// Power that keeps a small arc alive (Mayr), W.
pub const POWER_W: f64 = 12.0;
/// Current under which Mayr's law takes over, A.
const BLEND_A: f64 = 1.0;

/// Conductance after a step of constant current by Mayr; `decay` is exp(−dt/τ).
pub fn mayr(g: f64, i: f64, power_w: f64, decay: f64) -> f64 {
    let settled = i * i / power_w;
    settled + (g - settled) * decay
}

/// Conductance after a step of constant current by Cassie; `decay` is exp(−dt/τ).
pub fn cassie(g: f64, i: f64, arc_v: f64, decay: f64) -> f64 {
    let settled = (i / arc_v) * (i / arc_v);
    libm::sqrt(settled + (g * g - settled) * decay * decay)
}

/// Conductance after a step of constant current by the blend of both.
pub fn blended(g: f64, i: f64, arc_v: f64, decay: f64) -> f64 {
    let ratio = i / BLEND_A;
    let large = cassie(g, i, arc_v, decay);
    if ratio.abs() > 6.0 {
        return large;
    }
    let small = libm::exp(-ratio * ratio);
    (1.0 - small) * large + small * mayr(g, i, POWER_W, decay)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// (time s, conductance S, voltage V): closed form of Mayr at 10 A, P₀ 150 W, τ 100 µs, g₀ 0.01 S (analytic).
    const MAYR: [(f64, f64, f64); 5] = [
        (50e-6, 0.2683782001220374, 37.26085052903993),
        (100e-6, 0.4250925002974195, 23.524291755331877),
        (200e-6, 0.577796497341291, 17.307131569704257),
        (500e-6, 0.6622420814706005, 15.100218303544848),
        (1000e-6, 0.6666368540461226, 15.000670813960324),
    ];
    /// The same of Cassie at 100 A, U_c 12 V, τ 100 µs, g₀ 0.5 S (analytic).
    const CASSIE: [(f64, f64, f64); 5] = [
        (50e-6, 6.63243777883018, 15.077412458988475),
        (100e-6, 7.75112860860633, 12.901347023060197),
        (200e-6, 8.256942774834608, 12.111020110830678),
        (500e-6, 8.333144845826618, 12.000271428148967),
        (1000e-6, 8.333333324776111, 12.000000012322399),
    ];

    /// Steps a law in steps of 5 µs up to an instant.
    fn stepped(until_s: f64, g0: f64, law: impl Fn(f64, f64) -> f64) -> f64 {
        let decay = libm::exp(-5e-6 / 100e-6);
        (0..(until_s / 5e-6).round() as usize).fold(g0, |g, _| law(g, decay))
    }

    #[test]
    fn mayr_follows_its_closed_form() {
        for (t, g, u) in MAYR {
            let got = stepped(t, 0.01, |g, decay| mayr(g, 10.0, 150.0, decay));
            assert_relative_eq!(got, g, max_relative = 1e-9);
            assert_relative_eq!(10.0 / got, u, max_relative = 1e-9);
        }
    }

    #[test]
    fn cassie_follows_its_closed_form() {
        for (t, g, u) in CASSIE {
            let got = stepped(t, 0.5, |g, decay| cassie(g, 100.0, 12.0, decay));
            assert_relative_eq!(got, g, max_relative = 1e-9);
            assert_relative_eq!(100.0 / got, u, max_relative = 1e-9);
        }
    }

    /// Steps a law through steady 60 Hz alternating current of 150 A rms in steps of 1/40000 cycle;
    /// gives the conductance at an eighth, a quarter, three eighths and a half of a cycle.
    fn alternating(tau_s: f64, law: impl Fn(f64, f64, f64) -> f64) -> [f64; 4] {
        const STEPS: usize = 40_000;
        let amps =
            |k: f64| 150.0 * 2f64.sqrt() * libm::sin(std::f64::consts::TAU * k / STEPS as f64);
        let decay = libm::exp(-1.0 / (60.0 * STEPS as f64) / tau_s);
        let mut g = 1.0;
        let mut marks = [0.0; 4];
        for k in 0..=STEPS + STEPS / 2 {
            if k > STEPS && (k - STEPS).is_multiple_of(STEPS / 8) {
                marks[(k - STEPS) / (STEPS / 8) - 1] = g;
            }
            g = law(g, amps(k as f64 + 0.5), decay);
        }
        marks
    }

    #[test]
    fn mayr_follows_its_steady_alternating_form() {
        let [eighth, quarter, three, half] =
            alternating(50e-6, |g, i, decay| mayr(g, i, 2000.0, decay));
        assert_relative_eq!(eighth, 10.826486898340523, max_relative = 1e-5);
        assert_relative_eq!(quarter, 22.484033932213528, max_relative = 1e-5);
        assert_relative_eq!(three, 11.67351310165952, max_relative = 1e-5);
        assert_relative_eq!(half, 0.01596606778647, max_relative = 1e-3);
    }

    #[test]
    fn cassie_follows_its_steady_alternating_form() {
        let [eighth, quarter, three, half] =
            alternating(100e-6, |g, i, decay| cassie(g, i, 12.0, decay));
        let amps = 150.0 * 2f64.sqrt();
        let diagonal = amps * 0.5f64.sqrt();
        assert_relative_eq!(diagonal / eighth, 12.232457906, max_relative = 1e-5);
        assert_relative_eq!(amps / quarter, 12.004259885, max_relative = 1e-5);
        assert_relative_eq!(diagonal / three, 11.780310017, max_relative = 1e-5);
        assert_relative_eq!(half, 0.47090438676950, max_relative = 1e-3);
    }

    #[test]
    fn without_current_the_column_dies_with_its_time_constant() {
        let g = stepped(300e-6, 2.0, |g, decay| cassie(g, 0.0, 12.0, decay));
        assert_relative_eq!(g, 2.0 * libm::exp(-3.0), max_relative = 1e-12);
    }
}
