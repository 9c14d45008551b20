//! What is not the same for all preps of a sheet.

use tipstrike::fit::{FitFinding, Level, fit};
use tipstrike::job::{Job, Process, Run, StartMethod};

/// Preps A and B on the rows given, numbered in their order.
fn job(runs: &[(&str, Run)]) -> Job {
    let key = "class = \"WLa20\"\ndiameter = \"2.4 mm\"\ntaper_deg = 30\ntip = \"point\"\nmarks = \"lengthwise\"\n";
    let text = format!("[prep.A]\n{key}[prep.B]\n{key}");
    let mut job = Job::parse(&text, "job.toml", Default::default()).unwrap();
    let numbered = runs.iter().zip(1..).map(|((prep, run), number)| Run {
        number,
        line: u64::from(number) + 1,
        prep: (*prep).to_owned(),
        ..run.clone()
    });
    job.runs = numbered.collect();
    job
}

fn sound() -> Run {
    Run {
        set_a: Some(80.0),
        process: Some(Process::Dc),
        start_method: Some(StartMethod::Hf),
        coupon: Some("L1".to_owned()),
        ..Run::default()
    }
}

/// A, B, B, A: the rows of A as `a` leaves them, those of B as `b` does.
fn told(a: impl Fn(&mut Run), b: impl Fn(&mut Run)) -> Vec<(Level, String)> {
    let of = |change: &dyn Fn(&mut Run)| {
        let mut run = sound();
        change(&mut run);
        run
    };
    let (one, other) = (of(&a), of(&b));
    let rows = [
        ("A", one.clone()),
        ("B", other.clone()),
        ("B", other),
        ("A", one),
    ];
    between(&fit(&job(&rows)))
}

fn between(findings: &[FitFinding]) -> Vec<(Level, String)> {
    let between = findings
        .iter()
        .filter(|f| ["conditions", "order"].contains(&f.about()));
    between.map(|f| (f.level(), f.remark().what)).collect()
}

fn write(column: &str, text: &str) -> impl Fn(&mut Run) {
    let (column, text) = (column.to_owned(), text.to_owned());
    move |run: &mut Run| {
        run.other.insert(column.clone(), text.clone());
    }
}

#[test]
fn preps_struck_alike_in_mixed_order_have_nothing_between_them() {
    assert_eq!(told(|_| (), |_| ()), []);
}

#[test]
fn what_decides_how_an_arc_starts_is_to_be_changed_where_it_differs() {
    let change = |what: &str| vec![(Level::Change, what.to_owned())];
    assert_eq!(
        told(|_| (), |run| run.start_method = Some(StartMethod::Lift)),
        change("start_method is not the same for all (A: hf; B: lift)")
    );
    assert_eq!(
        told(|_| (), |run| run.set_a = Some(110.0)),
        change("set_a is not the same for all (A: 80; B: 110)")
    );
    assert_eq!(
        told(write("gas", "argon"), write("gas", "Ar 70 / He 30")),
        change("gas is not the same for all (A: argon; B: Ar 70 / He 30)")
    );
}

#[test]
fn other_conditions_and_what_is_not_written_down_are_to_be_looked_at() {
    let look = |what: &str| vec![(Level::Look, what.to_owned())];
    assert_eq!(
        told(|_| (), |run| run.coupon = Some("L2".to_owned())),
        look("coupon is not the same for all (A: L1; B: L2)")
    );
    assert_eq!(
        told(|_| (), write("gas", "argon")),
        look("gas is not the same for all (A: not written down; B: argon)")
    );
    assert_eq!(
        told(write("operator", "bench 1"), write("operator", "bench 2")),
        look("operator is not the same for all (A: bench 1; B: bench 2)")
    );
}

/// Each prep at each setting is a sound design; a row set aside is no part of it.
#[test]
fn the_same_settings_for_each_are_alike() {
    let at = |amps: f64| Run {
        set_a: Some(amps),
        ..sound()
    };
    let fumbled = Run {
        exclude: Some("fumbled".to_owned()),
        ..at(200.0)
    };
    let rows = [
        ("A", at(60.0)),
        ("B", at(100.0)),
        ("B", at(60.0)),
        ("A", at(100.0)),
        ("B", fumbled),
    ];
    assert_eq!(between(&fit(&job(&rows))), []);
}

#[test]
fn one_prep_after_the_other_is_told_and_other_work_is_not_compared() {
    let rows = [
        ("A", sound()),
        ("A", sound()),
        ("B", sound()),
        ("B", sound()),
    ];
    assert_eq!(
        between(&fit(&job(&rows))),
        [(
            Level::Look,
            "all rows of A stand before those of B".to_owned()
        )]
    );
    let skiff = || {
        let mut run = Run {
            process: Some(Process::Ac),
            set_a: Some(120.0),
            ..sound()
        };
        write("material", "5052 aluminium")(&mut run);
        run
    };
    let lid = || {
        let mut run = sound();
        write("material", "304 stainless")(&mut run);
        run
    };
    let rows = [("A", lid()), ("A", lid()), ("B", skiff()), ("B", skiff())];
    assert_eq!(between(&fit(&job(&rows))), []);
}
