//! What lies at a limit of a rule, and next to it: where a turned or moved comparison would say something else.

use tipstrike::fit::{Level, fit};

use super::fit::about;
use super::foreman::sheet;

/// The level of the finding about something, if there is one.
fn level(changes: &str, what: &str) -> Option<Level> {
    about(&fit(&sheet(changes)), what).map(|f| f.level())
}

const FLAT: &str = "tip=flat; tip_flat=0.6 mm";

/// Manual OM-880, Table 6-2: 235 A; manual 1383499, p. 32: 250 A.
#[test]
fn the_end_of_a_range_lies_in_it() {
    let at = |amps: f64| level(&format!("taper_deg=60; {FLAT}; set_a={amps}"), "current");
    assert_eq!(
        [at(235.0), at(236.0), at(250.0), at(251.0)],
        [
            None,
            Some(Level::Look),
            Some(Level::Look),
            Some(Level::Change)
        ]
    );
    // The tip table takes 2.4 mm down to 12 A (gas supplier's guide, p. 24).
    assert_eq!([at(12.0), at(11.9)], [None, Some(Level::Look)]);
}

/// The limits are this project's own: under 45 %, 60 %, and over 80 % electrode negative.
#[test]
fn a_balance_of_just_the_limit_is_on_its_better_side() {
    let at = |en: f64| {
        level(
            &format!("process=ac; set_a=100; {FLAT}; set_en_pct={en}"),
            "balance",
        )
    };
    assert_eq!(
        [at(44.9), at(45.0), at(59.9), at(60.0), at(80.0), at(80.1)],
        [
            Some(Level::Change),
            Some(Level::Look),
            Some(Level::Look),
            None,
            None,
            Some(Level::Note)
        ]
    );
}

/// Common practice, no source: 30–35° on 2.4 mm to 150 A, 45–50° to 185 A.
#[test]
fn a_taper_carries_what_practice_gives_it_and_no_more() {
    let at = |deg: f64, amps: f64| level(&format!("taper_deg={deg}; set_a={amps}"), "taper");
    for (deg, amps) in [
        (30.0, 150.0),
        (35.0, 150.0),
        (45.0, 185.0),
        (50.0, 185.0),
        (60.0, 235.0),
    ] {
        assert_eq!(at(deg, amps), None, "{deg}° at {amps} A");
    }
    for (deg, amps) in [(30.0, 155.0), (35.0, 155.0), (45.0, 190.0), (50.0, 190.0)] {
        assert_eq!(at(deg, amps), Some(Level::Look), "{deg}° at {amps} A");
    }
    // From 80 % of 235 A on a sharp taper is sure to lose its end.
    assert_eq!(
        [at(30.0, 187.0), at(30.0, 188.0)],
        [Some(Level::Look), Some(Level::Change)]
    );
}

/// A flat of a quarter of the diameter relieves the thin end (gas supplier's guide, p. 24: flat ¼–½ × the diameter).
#[test]
fn a_flat_of_a_quarter_lets_a_taper_carry_more() {
    let at = |flat: &str| {
        level(
            &format!("taper_deg=30; set_a=180; tip=flat; tip_flat={flat}"),
            "taper",
        )
    };
    assert_eq!([at("0.59 mm"), at("0.6 mm")], [Some(Level::Look), None]);
    let wide = |flat: &str| level(&format!("tip=flat; tip_flat={flat}"), "tip");
    assert_eq!([wide("1.2 mm"), wide("1.25 mm")], [None, Some(Level::Look)]);
}

/// This project's own lines: blunt from 45°, few amps under 30 A.
#[test]
fn blunt_and_few_amps_begin_with_their_limits() {
    let at = |deg: f64, amps: f64| level(&format!("taper_deg={deg}; set_a={amps}"), "taper");
    assert_eq!([at(44.9, 20.0), at(45.0, 20.0)], [None, Some(Level::Look)]);
    assert_eq!([at(45.0, 29.9), at(45.0, 30.0)], [Some(Level::Look), None]);
    // On 0.5 mm, whose range ends at 40 A, 20 A are not few.
    assert_eq!(
        level("diameter=0.5 mm; taper_deg=60; set_a=20", "taper"),
        None
    );
}

/// Common practice, no source: 20–60°. The tip table grinds 12° on 1.0 mm and 90° on 3.2 mm.
#[test]
fn a_taper_outside_what_is_ground_is_noted_unless_the_table_has_it() {
    let at = |changes: &str| level(changes, "taper");
    assert_eq!([at("taper_deg=20"), at("taper_deg=60")], [None, None]);
    assert_eq!(
        [at("taper_deg=19"), at("taper_deg=61")],
        [Some(Level::Note), Some(Level::Note)]
    );
    assert_eq!(at("taper_deg=12; diameter=1.0 mm; set_a=10"), None);
    assert_eq!(at("taper_deg=90; diameter=3.2 mm; set_a=200"), None);
}

/// Gas supplier's guide, p. 24: 3 × the diameter, at most 6 × with a gas lens.
#[test]
fn a_stick_out_of_just_three_and_six_diameters_is_within() {
    let at = |out: &str| level(&format!("stickout={out}"), "stick-out");
    assert_eq!([at("7.2 mm"), at("7.3 mm")], [None, Some(Level::Look)]);
    assert_eq!(
        [at("14.4 mm"), at("14.5 mm")],
        [Some(Level::Look), Some(Level::Change)]
    );
    let lens = |out: &str| level(&format!("cup=7 gas lens; stickout={out}"), "stick-out");
    assert_eq!(
        [lens("14.4 mm"), lens("14.5 mm")],
        [Some(Level::Note), Some(Level::Change)]
    );
}

/// A gas lens is not promised to mend what lies beyond six diameters.
#[test]
fn beyond_six_diameters_the_way_out_is_shorter() {
    let findings = fit(&sheet("stickout=16 mm; cup=7 gas lens"));
    let way_out = about(&findings, "stick-out").unwrap().remark().to_try;
    assert_eq!(way_out, "a stick-out of 7.2 mm");
}

/// Manual 3617104, p. 7: 7–10 l/min with a No. 7 cup; 0.8 × and 1.8 × are this project's own.
#[test]
fn a_flow_is_held_against_its_cup_and_its_amps() {
    let at = |flow: f64| {
        level(
            &format!("cup=7; set_a=150; taper_deg=45; flow={flow} l/min"),
            "flow",
        )
    };
    assert_eq!(
        [at(5.5), at(5.6), at(18.0), at(18.1)],
        [Some(Level::Look), None, None, Some(Level::Look)]
    );
    // Welder's Handbook, p. 41: 5 l/min will do up to 120 A.
    assert_eq!(level("cup=7; set_a=100; flow=5 l/min", "flow"), None);
    // Common practice, no source: helium takes about twice the flow.
    assert_eq!(
        level(
            "gas=helium; cup=7; set_a=150; taper_deg=45; flow=8 l/min",
            "flow"
        ),
        Some(Level::Look)
    );
    assert_eq!(
        level(
            "gas=helium; cup=7; set_a=150; taper_deg=45; flow=16 l/min",
            "flow"
        ),
        None
    );
}

/// Common practice, no source: about one diameter, under 3 mm.
#[test]
fn a_gap_is_held_against_the_diameter() {
    let at = |changes: &str| level(changes, "arc gap");
    assert_eq!(
        [at("arc_gap=3 mm"), at("arc_gap=3.1 mm")],
        [None, Some(Level::Look)]
    );
    assert_eq!(
        [
            at("diameter=1.6 mm; arc_gap=2.4 mm"),
            at("diameter=1.6 mm; arc_gap=2.5 mm")
        ],
        [None, Some(Level::Look)]
    );
    assert_eq!(
        [at("arc_gap=0.5 mm"), at("arc_gap=0.4 mm")],
        [None, Some(Level::Look)]
    );
    assert_eq!(at("arc_gap=0 mm; start_method=lift"), None);
}

/// Welder's Handbook, p. 41: 1.6 mm of steel takes 50–70 A; 1.6 × and 0.4 × are this project's own.
#[test]
fn amps_are_held_against_the_thickness() {
    let at = |amps: f64| {
        level(
            &format!("material=steel; thickness=1.6 mm; set_a={amps}"),
            "work",
        )
    };
    assert_eq!([at(112.0), at(113.0)], [None, Some(Level::Look)]);
    assert_eq!([at(20.0), at(19.9)], [None, Some(Level::Note)]);
    assert_eq!(
        level("material=steel; thickness=8 mm; set_a=20", "work"),
        None,
        "the table ends at 6 mm"
    );
    assert_eq!(
        level("material=titanium; thickness=1 mm; set_a=140", "work"),
        None,
        "not in the table"
    );
}

/// Manual IM528-B, p. 41, note 1; the fifth and the share of 20 % are this project's own.
#[test]
fn helium_lowers_the_end_of_the_range() {
    let at = |gas: &str, amps: f64| {
        level(
            &format!("gas={gas}; taper_deg=60; {FLAT}; set_a={amps}"),
            "gas",
        )
    };
    assert_eq!(
        [at("helium", 188.0), at("helium", 189.0)],
        [None, Some(Level::Look)]
    );
    assert_eq!(
        [at("Ar 80 / He 20", 200.0), at("Ar 85 / He 15", 200.0)],
        [Some(Level::Look), None]
    );
    assert_eq!(at("argon", 230.0), None);
}

#[test]
fn a_coarse_wheel_begins_under_120_grit() {
    let at = |grit: u32| level(&format!("wheel=belt, {grit} grit"), "marks");
    assert_eq!([at(120), at(119)], [None, Some(Level::Note)]);
    assert_eq!(level("marks=polished; wheel=coarse", "marks"), None);
}

/// The composite table: zirconium has 400–550 A of its own at 4.8 mm on unbalanced AC, and nowhere else.
#[test]
fn zirconium_has_one_cell_to_itself() {
    let within = |class: &str, size: &str, amps: f64| {
        let changes = format!(
            "class={class}; diameter={size}; process=ac; set_en_pct=68; tip=rounded; taper_deg=; set_a={amps}"
        );
        level(&changes, "current").is_none()
    };
    assert!(within("WZr8", "4.8 mm", 520.0) && !within("WLa20", "4.8 mm", 520.0));
    assert!(within("WZr8", "3.2 mm", 300.0) && !within("WZr8", "3.2 mm", 500.0));
}

/// A transformer gives the mains frequency; TWI, technical FAQ on power sources: about 90 % keeps a point.
#[test]
fn an_inverter_is_known_by_what_can_be_set_on_it() {
    let ball = |more: &str| {
        level(
            &format!("process=ac; set_a=120; tip=balled; taper_deg=; {more}"),
            "tip",
        )
    };
    assert_eq!(ball("set_en_pct=60; ac_hz=60"), None);
    assert_eq!(ball("set_en_pct=60; ac_hz=90"), Some(Level::Look));
    assert_eq!(ball("set_en_pct=70; ac_hz=60"), Some(Level::Look));
    assert_eq!(ball("class=WP; set_en_pct=70; set_a=120"), None);
    let point = |en: f64| level(&format!("process=ac; set_a=120; set_en_pct={en}"), "tip");
    assert_eq!([point(84.0), point(85.0)], [Some(Level::Note), None]);
}
