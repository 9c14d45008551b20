//! Published tables as data: current by diameter, tip by current.
//!
//! The makers of machines and gases print what they took from the standards; each table stands
//! under its own name, because they disagree. See docs/electrodes.md.

/// Amps from, to; `None`: not recommended, or not listed.
pub type Amps = Option<(f64, f64)>;

/// Which column of a current table speaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RangeColumn {
    /// Direct current, electrode negative, pure tungsten.
    DcenPure,
    /// Direct current, electrode negative, tungsten with oxide.
    DcenOxide,
    /// Direct current, electrode positive.
    Dcep,
    /// Alternating current, more electrode-negative than positive, pure.
    AcUnbalancedPure,
    /// The same, with oxide.
    AcUnbalancedOxide,
    /// Alternating current, half and half, pure.
    AcBalancedPure,
    /// The same, with oxide.
    AcBalancedOxide,
}

impl RangeColumn {
    /// The column in words.
    pub fn words(self) -> &'static str {
        match self {
            RangeColumn::DcenPure => "DC electrode negative, pure tungsten",
            RangeColumn::DcenOxide => "DC electrode negative, tungsten with oxide",
            RangeColumn::Dcep => "DC electrode positive",
            RangeColumn::AcUnbalancedPure => "AC unbalanced, pure tungsten",
            RangeColumn::AcUnbalancedOxide => "AC unbalanced, tungsten with oxide",
            RangeColumn::AcBalancedPure => "AC balanced, pure tungsten",
            RangeColumn::AcBalancedOxide => "AC balanced, tungsten with oxide",
        }
    }
}

/// One diameter of a current table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurrentRow {
    /// Trade size, mm.
    pub mm: f64,
    /// The columns that are listed.
    pub cells: &'static [(RangeColumn, Amps)],
}

/// A published table of current by diameter.
#[derive(Debug)]
pub struct CurrentTable {
    /// How it is cited.
    pub source: &'static str,
    /// One row a diameter.
    pub rows: &'static [CurrentRow],
}

impl CurrentTable {
    /// The range of a trade size in a column; `None` where the table does not list it or says no.
    pub fn range(&self, size_mm: f64, column: RangeColumn) -> Amps {
        let row = self.rows.iter().find(|row| row.mm == size_mm)?;
        row.cells.iter().find(|cell| cell.0 == column)?.1
    }
}

macro_rules! composite {
    ($mm:literal $pure:expr, $oxide:expr, $dcep:expr, $ac_pure:expr, $ac_oxide:expr, $bal_pure:expr, $bal_oxide:expr) => {
        CurrentRow {
            mm: $mm,
            cells: &[
                (RangeColumn::DcenPure, Some($pure)),
                (RangeColumn::DcenOxide, Some($oxide)),
                (RangeColumn::Dcep, $dcep),
                (RangeColumn::AcUnbalancedPure, Some($ac_pure)),
                (RangeColumn::AcUnbalancedOxide, Some($ac_oxide)),
                (RangeColumn::AcBalancedPure, Some($bal_pure)),
                (RangeColumn::AcBalancedOxide, Some($bal_oxide)),
            ],
        }
    };
}

/// Manual OM-880, p. 20, Table 6-2 ("composite of recommendations from AWS and electrode
/// manufacturers", argon); the same numbers stand in manual OM-206, p. 24. It lists thoriated and
/// zirconiated tungsten; the thoriated column is taken here for every oxide but zirconium.
/// One cell differs for zirconium alone: 4.8 mm, AC unbalanced, 400–550 A ([`ZIRCONIUM_4_8`]).
#[rustfmt::skip]
pub static COMPOSITE: CurrentTable = CurrentTable {
    source: "manual OM-880, Table 6-2 (composite of AWS and electrode makers)",
    rows: &[
        composite!(0.25 (0.0, 15.0),    (0.0, 25.0),     None,                (0.0, 15.0),    (0.0, 20.0),    (0.0, 10.0),    (0.0, 15.0)),
        composite!(0.5  (5.0, 20.0),    (15.0, 40.0),    None,                (5.0, 20.0),    (15.0, 35.0),   (10.0, 20.0),   (5.0, 20.0)),
        composite!(1.0  (15.0, 80.0),   (25.0, 85.0),    None,                (10.0, 60.0),   (20.0, 80.0),   (20.0, 30.0),   (20.0, 60.0)),
        composite!(1.6  (70.0, 150.0),  (50.0, 160.0),   Some((10.0, 20.0)),  (50.0, 100.0),  (50.0, 150.0),  (30.0, 80.0),   (60.0, 120.0)),
        composite!(2.4  (125.0, 225.0), (135.0, 235.0),  Some((15.0, 30.0)),  (100.0, 160.0), (130.0, 250.0), (60.0, 130.0),  (100.0, 180.0)),
        composite!(3.2  (225.0, 360.0), (250.0, 400.0),  Some((25.0, 40.0)),  (150.0, 210.0), (225.0, 360.0), (100.0, 180.0), (160.0, 250.0)),
        composite!(4.0  (360.0, 450.0), (400.0, 500.0),  Some((40.0, 55.0)),  (200.0, 275.0), (300.0, 450.0), (160.0, 240.0), (200.0, 320.0)),
        composite!(4.8  (450.0, 720.0), (500.0, 750.0),  Some((55.0, 80.0)),  (250.0, 350.0), (400.0, 500.0), (190.0, 300.0), (290.0, 390.0)),
        composite!(6.4  (720.0, 950.0), (750.0, 1000.0), Some((80.0, 125.0)), (325.0, 450.0), (600.0, 800.0), (250.0, 400.0), (340.0, 525.0)),
    ],
};

/// The one cell of [`COMPOSITE`] that zirconium has to itself: 4.8 mm, AC unbalanced.
pub const ZIRCONIUM_4_8: (f64, f64) = (400.0, 550.0);

macro_rules! annex {
    ($mm:literal $dcen:expr, $unbalanced:expr, $balanced:expr) => {
        CurrentRow {
            mm: $mm,
            cells: &[
                (RangeColumn::DcenOxide, Some($dcen)),
                (RangeColumn::AcUnbalancedOxide, Some($unbalanced)),
                (RangeColumn::AcBalancedOxide, Some($balanced)),
            ],
        }
    };
}

/// The family of the AWS A5.12 annex as a TIG machine manual prints it on p. 32 (second-hand):
/// 2 % thoriated on DC, 0.8 % zirconiated on AC.
#[rustfmt::skip]
pub static ANNEX: CurrentTable = CurrentTable {
    source: "AWS A5.12 annex as a TIG machine manual prints it, p. 32",
    rows: &[
        annex!(1.0 (15.0, 80.0),   (15.0, 80.0),   (20.0, 60.0)),
        annex!(1.6 (70.0, 150.0),  (70.0, 150.0),  (60.0, 120.0)),
        annex!(2.4 (150.0, 250.0), (140.0, 235.0), (100.0, 180.0)),
        annex!(3.2 (250.0, 400.0), (225.0, 325.0), (160.0, 250.0)),
        annex!(4.0 (400.0, 500.0), (300.0, 400.0), (200.0, 320.0)),
    ],
};

macro_rules! european {
    ($mm:literal $dc:expr, $pure:expr, $oxide:expr) => {
        CurrentRow {
            mm: $mm,
            cells: &[
                (RangeColumn::DcenOxide, Some($dc)),
                (RangeColumn::AcBalancedPure, Some($pure)),
                (RangeColumn::AcBalancedOxide, Some($oxide)),
                (RangeColumn::AcUnbalancedPure, Some($pure)),
                (RangeColumn::AcUnbalancedOxide, Some($oxide)),
            ],
        }
    };
}

/// A European gas supplier's welding handbook, p. 16: cerium, thorium, lanthanum on DC; zirconium
/// and pure on AC. The heads of its two AC columns are lost in the copy seen: by their values the
/// first is pure, the second with oxide. It does not tell balanced from unbalanced.
#[rustfmt::skip]
pub static EUROPEAN: CurrentTable = CurrentTable {
    source: "European gas supplier's welding handbook, p. 16",
    rows: &[
        european!(1.0 (15.0, 80.0),   (10.0, 30.0),   (20.0, 60.0)),
        european!(1.6 (50.0, 150.0),  (30.0, 80.0),   (50.0, 120.0)),
        european!(2.4 (100.0, 250.0), (60.0, 130.0),  (80.0, 180.0)),
        european!(3.2 (200.0, 400.0), (100.0, 180.0), (160.0, 250.0)),
    ],
};

macro_rules! dc_only {
    ($($mm:literal $dc:expr),*) => {
        &[$(CurrentRow { mm: $mm, cells: &[(RangeColumn::DcenOxide, Some($dc))] }),*]
    };
}

/// A combined machine manual, p. 16; for the spread.
pub static MACHINE_16: CurrentTable = CurrentTable {
    source: "a machine manual, p. 16",
    rows: dc_only!(
        1.0(25.0, 85.0),
        1.6(50.0, 160.0),
        2.4(160.0, 250.0),
        3.2(250.0, 400.0),
        4.0(400.0, 500.0)
    ),
};

/// A machine manual, p. 49; for the spread, and the lowest of all.
pub static MACHINE_49: CurrentTable = CurrentTable {
    source: "a machine manual, p. 49",
    rows: dc_only!(
        1.0(30.0, 60.0),
        1.6(60.0, 115.0),
        2.4(100.0, 165.0),
        3.2(135.0, 200.0),
        4.0(190.0, 280.0)
    ),
};

/// Every current table; the first that lists a case is the one that speaks.
pub static CURRENT_TABLES: [&CurrentTable; 5] =
    [&COMPOSITE, &ANNEX, &EUROPEAN, &MACHINE_16, &MACHINE_49];

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
pub const TIP_SOURCE: &str = "gas supplier's welding handbook, p. 24";

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

/// Gas supplier's welding handbook, p. 24. It prints 2.3 mm, which is the trade size 2.4 mm.
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

/// Common practice, no source. The amps around "about 20 A" and the end of "all-round" are this
/// project's reading of it.
pub static HABITS: [Habit; 3] = [
    habit!(
        2.4,
        (15.0, 25.0),
        (5.0, 40.0),
        "a needle of about 20° for about 20 A"
    ),
    habit!(
        2.4,
        (30.0, 35.0),
        (20.0, 150.0),
        "30–35° all round on steel"
    ),
    habit!(
        2.4,
        (45.0, 50.0),
        (150.0, 185.0),
        "45–50° for 170–185 A in place of the next diameter"
    ),
];

impl Habit {
    /// The grind that takes a trade size and an included angle to these amps.
    pub fn of(size_mm: f64, angle_deg: f64, amps: f64) -> Option<&'static Habit> {
        let within = |range: (f64, f64), value| (range.0..=range.1).contains(&value);
        HABITS
            .iter()
            .find(|h| h.mm == size_mm && within(h.angle_deg, angle_deg) && within(h.amps, amps))
    }
}

/// Included angles that an adjustable grinder reaches, degrees (common practice, no source).
pub const GRINDER_DEG: (f64, f64) = (20.0, 60.0);

/// Electrode-negative share that welders run on AC, percent (common practice, no source; manual
/// 2448104, p. 31, sets 65 % from the works, another calls 65–70 % ideal).
pub const USUAL_EN_PCT: (f64, f64) = (68.0, 70.0);

impl TipRow {
    /// Amps that the rows of a trade size give to an included angle.
    ///
    /// Between two rows it is taken on the straight line between them. A sharper tip than the
    /// sharpest has that row's upper end and no lower one; a blunter one than the bluntest has that
    /// row's lower end, and for its upper end the last row speaks.
    pub fn amps_at(size_mm: f64, angle_deg: f64) -> Option<(f64, f64)> {
        let rows: Vec<&TipRow> = TIPS.iter().filter(|row| row.mm == size_mm).collect();
        let (first, last) = (rows.first()?, rows.last()?);
        if angle_deg < first.angle_deg {
            return Some((0.0, first.amps.1));
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
}
