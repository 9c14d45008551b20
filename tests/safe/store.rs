//! What was measured is kept in one store for all verbs, and changes no answer.

use super::*;

/// Every file of the store with its bytes.
fn stored(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let store = cache_of(folder).join("tipstrike").join("measured");
    let read = |name: &String| std::fs::read(store.join(name)).unwrap();
    let names = if store.exists() {
        names(&store)
    } else {
        Vec::new()
    };
    names
        .into_iter()
        .map(|name| {
            let bytes = read(&name);
            (name, bytes)
        })
        .collect()
}

const VERBS: [&[&str]; 4] = [
    &["measure", ".", "--csv", "-"],
    &["compare", ".", "--json", "-"],
    &["screen", ".", "--json", "-"],
    &["report", ".", "-o", "-"],
];

#[test]
fn what_one_verb_measured_serves_the_others_and_gives_the_same_bytes() {
    let folder = job("file,prep\na.wav,A\nb.wav,B\n");
    let answers = VERBS.map(|verb| tipstrike(folder.path(), &[verb, &["--anew"]].concat()).stdout);
    assert!(stored(folder.path()).is_empty(), "--anew keeps nothing");
    for first in VERBS {
        let _ = std::fs::remove_dir_all(cache_of(folder.path()));
        tipstrike(folder.path(), first);
        let kept = stored(folder.path());
        assert!((1..=2).contains(&kept.len()), "{first:?}: {}", kept.len());
        // Nothing is measured, and so nothing is added, by those who need no pictures.
        for (verb, answer) in VERBS.iter().zip(&answers).take(3) {
            assert_eq!(
                &tipstrike(folder.path(), verb).stdout,
                answer,
                "{verb:?} after {first:?}"
            );
            assert_eq!(stored(folder.path()), kept, "{verb:?} after {first:?}");
        }
        assert_eq!(tipstrike(folder.path(), VERBS[3]).stdout, answers[3]);
    }
}

#[test]
fn damaged_entries_change_no_answer() {
    let folder = job("file,prep\na.wav,A\n");
    let answer = printed(folder.path(), VERBS[0]);
    let kept = stored(folder.path());
    let [(name, bytes)] = &kept[..] else {
        panic!("one file")
    };
    let path = cache_of(folder.path())
        .join("tipstrike/measured")
        .join(name);
    for at in (0..bytes.len()).step_by(bytes.len() / 12) {
        let mut damaged = bytes.clone();
        damaged[at] = damaged[at].wrapping_add(1);
        std::fs::write(&path, damaged).unwrap();
        assert_eq!(printed(folder.path(), VERBS[0]), answer, "byte {at}");
    }
}

#[test]
fn a_recording_that_changed_is_measured_anew() {
    let folder = job("file,prep\na.wav,A\n");
    let first = printed(folder.path(), VERBS[0]);
    std::fs::copy(sample(B), folder.path().join("a.wav")).unwrap();
    assert_ne!(printed(folder.path(), VERBS[0]), first);
    std::fs::copy(sample(A), folder.path().join("a.wav")).unwrap();
    assert_eq!(printed(folder.path(), VERBS[0]), first);
}
