use super::*;

fn magnitude(at: impl Iterator<Item = f64>, ratio: impl Fn(f64) -> f64) -> Magnitude {
    let at: Vec<f64> = at.collect();
    Magnitude {
        values: at.iter().map(|at| ratio(*at)).collect(),
        level: 1.0,
        at,
        run_a: 80.0,
        stepped: false,
        lasts: 0,
        spread: vec![0.0],
        either: None,
        pulse: None,
    }
}

/// From half the run level at frame 100 to one and a quarter of it 50 frames later, risen to within 3 frames: along that ramp
/// everything behind the rise is 1.
#[test]
fn an_up_slope_begins_where_the_rise_hides_it_and_ends_at_its_level() {
    let ramp = |at: f64| 0.5 + 0.75 * ((at - 100.0) / 50.0).clamp(0.0, 1.0);
    let mut sloped = magnitude((90..200).map(f64::from), |at| match at {
        ..100.0 => 0.1,
        100.0..103.0 => 0.1 + 0.1 * (at - 100.0),
        _ => ramp(at),
    });
    sloped.follow_upslope(100.0, 50.0);
    assert_eq!(sloped.run_a, 100.0);
    assert!(sloped.values[..10].iter().all(|r| (r - 0.2).abs() < 1e-12));
    assert!(sloped.values[10..13].iter().all(|r| *r < 0.6));
    assert!(sloped.values[13..].iter().all(|r| (r - 1.0).abs() < 1e-12));
}

/// Values every 2 frames of 1 ms: held for 20 ms are ten of them. Out of the band until frame 110, and once more at 130;
/// from 1.2 into the band of 1.1 half the way to 1 is gone.
#[test]
fn settling_is_told_in_frames_whatever_the_step() {
    let mut wave = magnitude(
        (0..100).map(|k| 100.0 + 2.0 * f64::from(k)),
        |at| match at {
            ..=110.0 | 130.0 => 1.2,
            _ => 1.0,
        },
    );
    let settled = |wave: &Magnitude, lit: f64| wave.settled(lit, &Measuring::default(), 1000.0);
    // From 112 to 128 it held 16 ms.
    assert!((settled(&wave, 100.5).unwrap() - 131.0).abs() < 1e-9);
    assert_eq!(settled(&wave, 150.7), Some(150.7));
    assert_eq!(settled(&wave, 280.0), None, "18 ms are left");
    assert_eq!(settled(&wave, 300.0), None);
    wave.stepped = true;
    assert_eq!(settled(&wave, 100.5), Some(132.0));
    // Half-cycles of 2 ms: the last begins 18 ms behind the first, and lasts as long as they all do.
    wave.lasts = 1;
    assert_eq!(settled(&wave, 280.0), Some(280.0));
    assert_eq!(settled(&wave, 281.0), None);
}

/// From 1.12 down by 0.0005 a frame of 1 ms the band of 1.1 is entered at frame 140: a spread of 0.004 is 8 ms to either side, one of 0.002 is 4 ms.
#[test]
fn an_instant_that_noise_may_move_by_more_than_five_milliseconds_hangs_on_it() {
    let hangs = |spread: f64, at_last: f64| {
        let mut slope = magnitude((100..1000).map(f64::from), |at| {
            (1.12 - 0.0005 * (at - 100.0)).max(at_last)
        });
        slope.spread = vec![spread];
        let told = slope.settled(100.0, &Measuring::default(), 1000.0);
        slope.hangs(told, 100.0, &Measuring::default(), 1000.0)
    };
    let (from, to) = hangs(0.004, 1.0).unwrap();
    assert!(
        (from - 132.0).abs() < 1e-6 && (to.unwrap() - 148.0).abs() <= 1.0,
        "{from} {to:?}"
    );
    assert_eq!(hangs(0.002, 1.0), None);
    // What stays at the edge may not have settled; what stays over it by more than the spread has not.
    assert_eq!(hangs(0.004, 1.098).unwrap().1, None);
    assert_eq!(hangs(0.004, 1.103).unwrap().1, None);
    assert_eq!(hangs(0.004, 1.105), None);
}

fn trace(amps: impl Fn(usize) -> f64) -> Trace {
    Trace {
        rate_hz: 100_000.0,
        first: 40,
        amps: (40..2040).map(amps).collect(),
        volts: Vec::new(),
    }
}

const WINDOW: Span = Span {
    on: 40.0,
    off: 2040.0,
};

/// The band of ±10 A is 30 standard deviations of noise wide after a mean over (30·1/10)² = 9 samples: one of 190 A among
/// 100 A is 110 A there. Never more than 1 ms, 100 samples, and without noise every sample stands for itself.
#[test]
fn noise_asks_for_just_so_long_a_mean() {
    let wave = trace(|n| if n == 1000 { -190.0 } else { -100.0 });
    for (noise, width) in [(0.0, 1.0), (1.0, 9.0), (2.0, 36.0), (10.0, 100.0)] {
        let seen = direct(&wave, WINDOW, [None; 2], 100.0, (noise, f64::INFINITY)).unwrap();
        let top = seen.values.iter().fold(0.0, |a, b| f64::max(a, *b)) / seen.level;
        assert_eq!(seen.run_a, 100.0);
        assert!((top - 1.0 - 0.9 / width).abs() < 1e-9, "{noise} A: {top}");
        assert_eq!((seen.at[0], seen.at.len()), (40.0, 2000));
    }
}

/// A ramp that begins at 20 A has a band of ±2 A there: 30 standard deviations wide after a mean over (30·0.2/2)² = 9 samples, where that
/// of the run level would ask for none.
#[test]
fn the_narrowest_band_asks_for_the_mean() {
    let wave = trace(|n| if n == 1000 { 190.0 } else { 100.0 });
    for (least, width) in [(20.0, 9.0), (f64::INFINITY, 1.0)] {
        let seen = direct(&wave, WINDOW, [None; 2], 100.0, (0.2, least)).unwrap();
        let top = seen.values.iter().fold(0.0, |a, b| f64::max(a, *b)) / seen.level;
        assert!((top - 1.0 - 0.9 / width).abs() < 1e-9, "{least} A: {top}");
    }
}

/// 100 A and 60 A in turn, 4 and 6 samples of 10: 76 A. Of ten samples at 100 kHz twenty periods are averaged over, 2 ms, so
/// that the mean stands 100 samples early.
#[test]
fn a_pulse_is_told_by_its_period_from_the_periods_begin_on() {
    let wave = trace(|n| if n % 10 < 4 { 100.0 } else { 60.0 });
    let seen = direct(
        &wave,
        WINDOW,
        [Some(10.0), None],
        60.0,
        (1.0, f64::INFINITY),
    )
    .unwrap();
    assert!((seen.run_a - 76.0).abs() < 1e-9);
    assert_eq!((seen.at[0], seen.at.len()), (-60.0, 1900));
    assert!(
        seen.values[100..]
            .iter()
            .all(|x| (x / seen.level - 1.0).abs() < 1e-9)
    );
}

/// 13 samples at 150 A and 7 at −100 A in turn: √((13·150² + 7·100²)/20) = 134.63 A over a cycle.
#[test]
fn alternating_current_is_told_by_the_half_cycle() {
    let wave = trace(|n| if n % 20 < 13 { 150.0 } else { -100.0 });
    let changes: Vec<f64> = (3..100)
        .map(|k| 20.0 * f64::from(k))
        .flat_map(|on| [on, on + 13.0])
        .collect();
    let signs = [1, -1].into_iter().cycle();
    let halves: Vec<HalfCycle> = changes
        .windows(2)
        .zip(signs)
        .map(|(w, sign)| HalfCycle {
            sign,
            span: Span {
                on: w[0],
                off: w[1],
            },
        })
        .collect();
    let from = |on: f64| {
        let window = Span {
            on,
            off: WINDOW.off,
        };
        alternating(&wave, window, [&halves, &[]], 0.0).unwrap()
    };
    // A quarter of a typical half-cycle of 13 samples is 3.25: only what is longer opens the window.
    assert_eq!((from(57.0).at[0], from(56.5).at[0]), (60.0, 56.5));
    for seen in [from(57.0), from(53.0)] {
        assert!((seen.run_a - 18_125.0_f64.sqrt()).abs() < 1e-9);
        assert!(seen.values.iter().all(|r| (r - 1.0).abs() < 1e-9));
        assert!(seen.stepped);
    }
}

/// Half-cycles of 6 samples: with one of them at the edge their rms is √(5/6) = 0.913 of the others, 1/12 of which is their spread. Which of
/// them the edge takes is chance, so that one at 0.95 may be out of the band of 0.9, and one at 0.85 inside.
#[test]
fn a_half_cycle_of_few_samples_may_be_off_by_half_a_sample() {
    let wave = trace(|n| if n % 12 < 6 { 100.0 } else { -100.0 });
    let signs = [1, -1].into_iter().cycle();
    let begins = (4..300).map(|k| 6.0 * f64::from(k));
    let halves: Vec<HalfCycle> = begins
        .zip(signs)
        .map(|(on, sign)| HalfCycle {
            sign,
            span: Span { on, off: on + 6.0 },
        })
        .collect();
    let mut seen = alternating(&wave, WINDOW, [&halves, &[]], 0.0).unwrap();
    assert!((seen.spread[9] - 1.0 / 12.0).abs() < 1e-12);
    // 10 ms are 1000 frames here, 5 ms 500: out of the band up to frame 1000, or 500 before.
    let measuring = Measuring {
        settle_hold_ms: 1.0,
        ..Measuring::default()
    };
    let hangs = |seen: &Magnitude| {
        let told = seen.settled(40.0, &measuring, 100e3);
        (told.unwrap(), seen.hangs(told, 40.0, &measuring, 100e3))
    };
    let (told, hung) = hangs(&seen);
    // The window's begin lies within a half-cycle, which begins at frame 36.
    assert_eq!((told, hung), (42.0, None));
    let late = seen.at.partition_point(|at| *at < 1000.0);
    seen.values[..late].fill(0.85);
    let (told, hung) = hangs(&seen);
    assert_eq!(hung, Some((42.0, Some(told))));
}

/// What does not burn from frame 280 to 320 is out of the band, though no half-cycle is there that could be.
#[test]
fn a_half_cycle_that_did_not_burn_is_out_of_the_band() {
    let wave = trace(|n| match n {
        280..320 => 0.0,
        _ if n % 80 < 40 => 100.0,
        _ => -100.0,
    });
    let half = |on: f64| HalfCycle {
        sign: if on % 80.0 < 40.0 { 1 } else { -1 },
        span: Span { on, off: on + 40.0 },
    };
    let all: Vec<HalfCycle> = (1..50).map(|k| half(40.0 * f64::from(k))).collect();
    let missing = 6;
    let burning: Vec<HalfCycle> = [&all[..missing], &all[missing + 1..]].concat();
    let measuring = Measuring {
        settle_hold_ms: 5.0,
        ..Measuring::default()
    };
    let settled = |unbroken: &[HalfCycle]| {
        let seen = alternating(&wave, WINDOW, [&burning, unbroken], 0.0).unwrap();
        seen.settled(40.0, &measuring, 100e3)
    };
    assert_eq!(settled(&[]), Some(40.0));
    assert_eq!(settled(&all), Some(320.0));
}

/// Half-waves of 53 A and 46 A that fall to half behind ten of the one sign and nine of the other, of nineteen each: the levels of both are
/// of the same one.
#[test]
fn both_polarities_have_one_level() {
    let half = |k: u32| {
        let sign = if k.is_multiple_of(2) { 1 } else { -1 };
        let on = f64::from(k);
        let amps = if sign > 0 { 46.0 } else { 53.0 };
        let span = Span { on, off: on + 1.0 };
        let level = if k < 19 { 1.0 } else { 0.5 };
        (HalfCycle { sign, span }, level * amps)
    };
    let [positive, negative] = levels(&(0..38).map(half).collect::<Vec<_>>()).unwrap();
    assert!((positive / negative - 46.0 / 53.0).abs() < 1e-9);
}
