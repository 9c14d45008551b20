//! The screen as it is drawn, line by line.

use super::*;

fn session() -> Shown {
    Shown {
        title: "Kettle lids, two grinds".into(),
        recording: "session.wav 1:25.0".into(),
        large: Some("A3 L1 80 A".into()),
        next: Some("prep A, tip A3, coupon L1, 80 A dc, start 1 of 4".into()),
        grind: Some("Grind A anew first (2.4 mm, 30°, point, lengthwise): it is tip A3".into()),
        last: Some(Last {
            number: 9,
            large: "rough 41".into(),
            says: "Start 9 at 1:23.4, run 5, tip B2: start time 412 ms, 3 attempts, 1 dropout, lit at 62 A, wander 0.48 V.".into(),
            verdict: Some(Verdict::Rough),
        }),
        stands: "A 9, B 8 of 12; 1 set aside. Not enough yet: about 2 more tips of each, if it goes on like this.".into(),
        enough: false,
        note: Some("Taken back: that start counts again.".into()),
        listening: true,
    }
}

fn drawn(shown: &Shown, width: u16, height: u16) -> String {
    let lines = draw(shown, true, (width, height));
    assert!(lines.len() == usize::from(height));
    let quoted = |line: &Line| {
        assert!(line.text.width() <= usize::from(width), "{line:?}");
        format!("\"{}\"\n", padded(&line.text, usize::from(width)))
    };
    lines.iter().map(quoted).collect()
}

/// The screen without quotes, lines up to their last letter.
fn bare(screen: &str) -> String {
    let lines = screen.lines().map(|line| line.trim_matches('"').trim_end());
    lines.collect::<Vec<_>>().join("\n")
}

#[test]
fn a_session_on_a_usual_terminal_is_the_one_in_the_readme() {
    let screen = drawn(&session(), 80, 24);
    insta::assert_snapshot!(screen);
    let readme = include_str!("../../../../README.md");
    let bare = bare(&screen);
    assert!(
        readme.contains(&bare),
        "the session in README.md is not this:\n{bare}"
    );
}

#[test]
fn a_session_on_a_large_terminal() {
    insta::assert_snapshot!(drawn(&session(), 120, 40));
}

#[test]
fn a_session_that_is_over() {
    let shown = Shown {
        large: None,
        next: None,
        grind: None,
        enough: true,
        note: None,
        stands: "A 12, B 12 of 12. Enough: A starts better than B, and you may stop.".into(),
        ..session()
    };
    insta::assert_snapshot!(drawn(&shown, 80, 24));
}

/// Whatever its size, nothing panics and the keys are in its last line.
#[test]
fn a_screen_of_any_size_shows_the_keys() {
    for (width, height) in [(80, 1), (60, 3), (60, 10), (30, 12), (1, 1), (250, 90)] {
        let text = drawn(&session(), width, height);
        let last = text.lines().last().unwrap();
        let keys: String = KEYS.chars().take(usize::from(width)).collect();
        assert!(last.contains(keys.trim_end()), "{width} x {height}: {last}");
    }
}

#[test]
fn the_verdict_is_coloured_besides_its_word() {
    let reds = |colour: bool| {
        let lines = draw(&session(), colour, (80, 24));
        let red = Some(Color::DarkRed);
        lines
            .iter()
            .filter(|line| line.style.foreground_color == red)
            .count()
    };
    assert!(reds(true) > 0);
    assert_eq!(reds(false), 0);
}
