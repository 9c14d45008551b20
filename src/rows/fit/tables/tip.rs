//! Tip geometry by current, and the grinds that welders use.

/// One row of the tip table: what a flat and an included angle stand for, constant current, DC
/// electrode negative.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TipRow {
    /// Trade size of the electrode, mm.
    pub mm: f64,
    /// Diameter of the flat, mm.
    pub flat_mm: f64,
    /// Included angle, degrees.
    pub angle_deg: f64,
    /// Amps from, to.
    pub amps: (f64, f64),
}

/// How the tip table is cited.
pub const TIP_SOURCE: &str =
    "gas supplier's guide in the manual of a 170 A stick and TIG machine (English), p. 24";

macro_rules! tip {
    ($mm:literal, $flat:literal, $deg:literal, $from:literal, $to:literal) => {
        TipRow {
            mm: $mm,
            flat_mm: $flat,
            angle_deg: $deg,
            amps: ($from, $to),
        }
    };
}

/// Gas supplier's guide in the manual of a 170 A stick and TIG machine, p. 24. It prints 2.3 mm, which is the trade size 2.4 mm.
/// Taper length 2–3 × diameter, flat ¼–½ × diameter, ground along and never around (same page).
pub static TIPS: [TipRow; 8] = [
    tip!(1.0, 0.125, 12.0, 2.0, 15.0),
    tip!(1.0, 0.250, 20.0, 5.0, 30.0),
    tip!(1.6, 0.500, 25.0, 8.0, 50.0),
    tip!(1.6, 0.800, 30.0, 10.0, 70.0),
    tip!(2.4, 0.800, 35.0, 12.0, 90.0),
    tip!(2.4, 1.100, 45.0, 15.0, 150.0),
    tip!(3.2, 1.100, 60.0, 20.0, 200.0),
    tip!(3.2, 1.500, 90.0, 25.0, 250.0),
];

/// A grind that welders use, told without a source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Habit {
    /// Trade size of the electrode, mm.
    pub mm: f64,
    /// Included angle from, to, degrees.
    pub angle_deg: (f64, f64),
    /// Amps from, to, that it is used for.
    pub amps: (f64, f64),
    /// What it is called.
    pub what: &'static str,
}

macro_rules! habit {
    ($mm:literal, $angle:expr, $amps:expr, $what:literal) => {
        Habit {
            mm: $mm,
            angle_deg: $angle,
            amps: $amps,
            what: $what,
        }
    };
}

/// Common practice, no source. The amps around "about 20 A" and the lower end of "all-round" are
/// this project's reading of it.
pub static HABITS: [Habit; 3] = [
    habit!(
        2.4,
        (15.0, 25.0),
        (12.0, 40.0),
        "a needle of about 20° near 20 A"
    ),
    habit!(
        2.4,
        (30.0, 35.0),
        (20.0, 150.0),
        "30–35° all round on steel"
    ),
    habit!(2.4, (45.0, 50.0), (150.0, 185.0), "45–50° for 170–185 A"),
];

/// Included angles that welders grind, degrees (common practice, no source).
pub const GRINDER_DEG: (f64, f64) = (20.0, 60.0);

/// Part of the diameter's own range that a pointed taper carries: (included angle, part of the top).
///
/// This project's reading of [`HABITS`] and [`TIPS`] on 2.4 mm, whose range ends at 235 A: up to
/// 25° the 90 A of the tip table, 30–35° 150 A, 45–50° 185 A, 60° and more the whole range. Other
/// diameters are taken in proportion.
pub const CARRIES: [(f64, f64); 6] = [
    (25.0, 0.385),
    (30.0, 0.64),
    (35.0, 0.64),
    (45.0, 0.79),
    (50.0, 0.79),
    (60.0, 1.0),
];

/// A flat of a quarter of the diameter and more lets a taper carry what one blunter by this many
/// degrees does (this project's own number).
pub const FLAT_COUNTS_DEG: f64 = 15.0;

/// Amps that a taper carries on DC electrode negative before its end melts back.
///
/// `top` is where the range of the diameter ends, A; `ended`: with a flat of a quarter of the diameter or more.
pub fn carried_amps(size_mm: f64, top: f64, angle_deg: f64, ended: bool) -> f64 {
    let by_table = TipRow::amps_at(size_mm, angle_deg).map_or(0.0, |amps| amps.1);
    let angle = angle_deg + if ended { FLAT_COUNTS_DEG } else { 0.0 };
    let (first, last) = (CARRIES[0], CARRIES[CARRIES.len() - 1]);
    let part = match CARRIES.windows(2).find(|pair| angle < pair[1].0) {
        _ if angle <= first.0 => first.1,
        None => last.1,
        Some(pair) => {
            let along = (angle - pair[0].0) / (pair[1].0 - pair[0].0);
            pair[0].1 + along * (pair[1].1 - pair[0].1)
        }
    };
    by_table.max(part * top)
}

impl TipRow {
    /// Amps that the rows of a trade size give to an included angle.
    ///
    /// Between two rows it is taken on the straight line between them; a sharper tip than the
    /// sharpest has that row's range, a blunter one than the bluntest that row's.
    pub fn amps_at(size_mm: f64, angle_deg: f64) -> Option<(f64, f64)> {
        let rows: Vec<&TipRow> = TIPS.iter().filter(|row| row.mm == size_mm).collect();
        let (first, last) = (rows.first()?, rows.last()?);
        if angle_deg <= first.angle_deg {
            return Some(first.amps);
        }
        if angle_deg >= last.angle_deg {
            return Some(last.amps);
        }
        let pair = rows.windows(2).find(|pair| angle_deg < pair[1].angle_deg)?;
        let part = (angle_deg - pair[0].angle_deg) / (pair[1].angle_deg - pair[0].angle_deg);
        let between = |a: f64, b: f64| a + part * (b - a);
        Some((
            between(pair[0].amps.0, pair[1].amps.0),
            between(pair[0].amps.1, pair[1].amps.1),
        ))
    }

    /// The fewest amps that any row gives a trade size.
    pub fn lowest(size_mm: f64) -> Option<f64> {
        let rows = TIPS.iter().filter(|row| row.mm == size_mm);
        rows.map(|row| row.amps.0).reduce(f64::min)
    }
}

/// A taper up to this is called a needle, degrees (this project's own line).
pub const NEEDLE_DEG: f64 = 25.0;
/// A taper under this without a flat is sharp, degrees (this project's own line).
pub const SHARP_DEG: f64 = 45.0;
/// From this part of the range on a taper is at the top of it (this project's own line).
pub const TOP_PART: f64 = 0.8;
/// A blunt taper (from [`SHARP_DEG`] on) under these amps starts late, A (this project's own line)…
pub const LOW_A: f64 = 30.0;
/// … where they lie in this part of the diameter's range too (this project's own line).
pub const LOW_PART: f64 = 0.3;

/// Flat in diameters: usual, from, to (gas supplier's guide, p. 24: [`TIP_SOURCE`]).
pub const FLAT: (f64, f64) = (0.25, 0.5);
