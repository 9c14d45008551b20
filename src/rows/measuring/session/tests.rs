//! The session as a state machine: events in, rows of the sheet and what to strike next out.

use std::path::PathBuf;

use proptest::prelude::*;

use super::*;
use crate::start::Instants;

const PLAN: &str = "file,prep,tip_id,coupon,starts,since_regrind\n\
                    run1.wav,A,A1,L1,2,1\nrun2.wav,B,B1,L1,2,1\nrun3.wav,A,A1,L2,1,3\nold.wav,B,B0,L1,3,1\n";

fn open(sheet: &SheetText) -> Result<Session> {
    let rules = "[prep.A]\ntaper_deg = 30\n[prep.B]\n";
    let mut job = Job::parse(rules, "job.toml", PathBuf::from("none")).unwrap();
    job.runs = job.runs_of(sheet).unwrap();
    Session::open(
        job,
        sheet.clone(),
        "s.wav",
        |file| file == "old.wav",
        Vec::new(),
    )
}

fn begun() -> Session {
    open(&SheetText::parse(PLAN, "runs.csv").unwrap()).unwrap()
}

/// A start that is open at a second, lit soon after, and burns for 2 s.
fn start(at_s: f64) -> Start {
    Start {
        instants: Instants {
            t_open_s: Some(at_s),
            t_first_s: Some(at_s + 0.1),
            t_lit_s: Some(at_s + 0.1),
            t_settled_s: Some(at_s + 0.2),
            t_out_s: Some(at_s + 2.1),
        },
        measures: Default::default(),
        flags: Vec::new(),
        doubts: Vec::new(),
        preview: None,
    }
}

/// Tips of the starts heard, with the reason of those set aside.
fn tips(session: &Session) -> Vec<String> {
    let name = |row: &StartRow| {
        let tip = row.tip_id.as_deref().unwrap_or_default();
        tip.to_owned() + row.exclude.as_deref().map_or("", |_| " aside")
    };
    session.rows().iter().map(name).collect()
}

#[test]
fn each_start_goes_to_the_row_that_is_next_and_the_sheet_says_when_to_grind() {
    let mut session = begun();
    let mut asked = Vec::new();
    for k in 0..5 {
        let next = session.next().unwrap();
        let tip = next.run.tip_id.clone().unwrap();
        asked.push((tip, next.number, next.of, next.grind));
        assert_eq!(
            session.heard(start(4.0 * f64::from(k))).unwrap(),
            Did::Heard
        );
    }
    let expected = [
        ("A1", 1, 2, true),
        ("A1", 2, 2, false),
        ("B1", 1, 2, true),
        ("B1", 2, 2, false),
        ("A1", 1, 1, false),
    ];
    let expected = expected.map(|(tip, number, of, grind)| (tip.to_owned(), number, of, grind));
    assert_eq!(asked, expected);
    assert_eq!(session.next(), None);
    assert_eq!(tips(&session), ["A1", "A1", "B1", "B1", "A1"]);
    session.heard(start(30.0)).unwrap();
    assert_eq!(tips(&session)[5], "A1 aside");
}

#[test]
fn a_mark_is_taken_back_and_what_was_heard_since_stays() {
    let mut session = begun();
    session.heard(start(0.0)).unwrap();
    assert_eq!(session.undo().unwrap(), Did::NothingToUndo);
    assert_eq!(session.fumbled().unwrap(), Did::SetAside);
    assert_eq!(session.fumbled().unwrap(), Did::NothingToSetAside);
    session.heard(start(5.0)).unwrap();
    assert_eq!(session.reground().unwrap(), Did::Reground("A1-2".into()));
    session.heard(start(9.0)).unwrap();
    assert_eq!(tips(&session), ["A1 aside", "A1", "A1-2"]);
    assert_eq!(session.undo().unwrap(), Did::NotReground);
    assert_eq!(tips(&session), ["A1 aside", "A1", "A1"]);
    assert_eq!(session.undo().unwrap(), Did::CountsAgain);
    assert_eq!(tips(&session), ["A1", "A1", "B1"]);
}

#[test]
fn a_recording_that_is_another_one_is_refused() {
    let mut session = begun();
    for at in [0.0, 5.0, 10.0] {
        session.heard(start(at)).unwrap();
    }
    let mut again = open(session.sheet()).unwrap();
    assert_eq!(again.heard(start(0.0)).unwrap(), Did::Known);
    assert_eq!(again.fumbled().unwrap(), Did::StillReading);
    assert_eq!(again.heard(start(5.0)).unwrap(), Did::Known);
    let other = again.heard(start(6.5)).unwrap_err();
    assert_eq!(other.kind(), ErrorKind::AnotherRecording);
}

proptest! {
    /// Killed after any event, a session goes on from its sheet as if nothing had happened, and no start is lost or counted twice.
    #[test]
    fn a_session_goes_on_from_its_sheet_whenever_it_is_killed(
        events in prop::collection::vec(0_u8..8, 0..24)
    ) {
        let mut session = begun();
        let mut at = Vec::new();
        for event in events {
            match event {
                0..4 => {
                    at.push(4.0 * at.len() as f64);
                    session.heard(start(at[at.len() - 1])).unwrap();
                }
                4 => drop(session.fumbled().unwrap()),
                5 => drop(session.reground().unwrap()),
                6 => drop(session.undo().unwrap()),
                _ => {
                    let before = (tips(&session), session.next().map(|next| next.run.clone()));
                    let text = session.sheet().written();
                    session = open(&SheetText::parse(&text, "runs.csv").unwrap()).unwrap();
                    for at in &at {
                        prop_assert_eq!(session.heard(start(*at)).unwrap(), Did::Known);
                    }
                    let after = (tips(&session), session.next().map(|next| next.run.clone()));
                    prop_assert_eq!(&before, &after, "{}", text);
                    prop_assert_eq!(session.sheet().written(), text);
                }
            }
            let rows = session.rows();
            prop_assert_eq!(rows.len(), at.len());
            let counted = rows.iter().filter(|row| row.exclude.is_none()).count();
            let runs = session.runs().iter().filter(|run| run.exclude.is_none());
            let left: u32 = runs.map(|run| run.planned.unwrap_or(0).saturating_sub(run.starts.unwrap_or(0))).sum();
            prop_assert_eq!(counted + left as usize, 5);
        }
    }
}
