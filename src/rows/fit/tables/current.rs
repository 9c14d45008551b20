//! Current by diameter: five published tables, and the two that reach lower.

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
    source: "manual OM-880, p. 20, Table 6-2",
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

/// Manual 1383499 of a TIG machine, p. 32: the figures of the AWS A5.12 annex, second-hand:
/// 2 % thoriated on DC, 0.8 % zirconiated on AC.
#[rustfmt::skip]
pub static ANNEX: CurrentTable = CurrentTable {
    source: "manual 1383499, p. 32 (figures of the AWS A5.12 annex)",
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

/// Welder's Handbook of a European gas supplier (e-edition), p. 16: cerium, thorium, lanthanum on DC; zirconium
/// and pure on AC. The heads of its two AC columns are lost in the copy seen: by their values the
/// first is pure, the second with oxide. It does not tell balanced from unbalanced.
#[rustfmt::skip]
pub static EUROPEAN: CurrentTable = CurrentTable {
    source: "Welder's Handbook (European gas supplier, e-edition), p. 16",
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

/// Manual 1938185 of a combined machine, p. 16; for the spread.
pub static MACHINE_16: CurrentTable = CurrentTable {
    source: "manual 1938185, p. 16",
    rows: dc_only!(
        1.0(25.0, 85.0),
        1.6(50.0, 160.0),
        2.4(160.0, 250.0),
        3.2(250.0, 400.0),
        4.0(400.0, 500.0)
    ),
};

/// Manual 595261 of a machine, p. 49; for the spread, and the lowest of all.
pub static MACHINE_49: CurrentTable = CurrentTable {
    source: "manual 595261, p. 49",
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

/// The lowest amps on AC that a table of the work gives a trade size: (mm, A).
///
/// Manual 3617104 of a TIG torch, p. 7; 2.4 mm: Welder's Handbook (European gas supplier,
/// e-edition), p. 41, aluminium of 1.6 mm.
pub static LOWEST_ON_AC: [(f64, f64); 5] = [
    (1.0, 5.0),
    (1.6, 30.0),
    (2.4, 60.0),
    (3.2, 120.0),
    (4.0, 180.0),
];

/// Electrode-negative shares that the balanced columns are taken for, percent.
pub const BALANCED_PCT: (f64, f64) = (45.0, 55.0);

/// From this share on the unbalanced columns hold, percent (a machine manual's own setting,
/// manual 2448104, p. 31).
pub const UNBALANCED_PCT: f64 = 65.0;

/// Part of the balanced column that is left on DC electrode positive where the table does not list
/// the size: a sixth, as from 1.6 mm to 4.0 mm of [`COMPOSITE`] (this project's own reading).
pub const POSITIVE_PART: f64 = 1.0 / 6.0;
