//! A month of forty cells, screened night by night with `--append`: every event is named in its night and cell, and next to
//! nothing else is.
//!
//! What the charts see comes as a starts table a night, since thirty nights of recordings would only measure the finder
//! again; what befalls files comes as real recordings beside it, on a few nights, with `TIPSTRIKE_LONG=1` on every one.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;

use crate::long_form::long;
use crate::study_support::{normal, start};
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use serde_json::Value;
use tipstrike::flag::Flag;
use tipstrike::measure::Measure;
use tipstrike::measuring::table;
use tipstrike::score::StartRow;

const CELLS: usize = 40;
const NIGHTS: usize = 30;
/// Starts of a cell in a night.
const STARTS: u32 = 10;
/// Nights until a cell regrinds; cells do so on different nights.
const TIP_NIGHTS: usize = 3;

/// Cells that go off: night, and by how many standard deviations. They are mended the day after.
const GO_OFF: [(usize, usize, f64); 3] = [(7, 9, 3.0), (19, 15, 3.0), (33, 22, 3.5)];
/// The cell whose tip wears, and the nights that it is in use.
const WEARS: (usize, [usize; 3]) = (26, [16, 17, 18]);
/// The cell whose logger clips, and the night.
const CLIPS: (usize, usize) = (4, 20);

fn name(cell: usize) -> String {
    format!("cell{cell:02}")
}

/// A score of one of three kinds of cell: steady about 70, most at the best, skewed. `z` is in standard deviations, more is
/// worse, and none is rough.
fn score(cell: usize, z: f64) -> f64 {
    match cell % 3 {
        0 => 72.0 - 4.0 * z,
        1 => (92.0 - 8.0 * z).min(100.0),
        _ => 84.0 - 4.0 * (0.5 * z).exp(),
    }
}

/// How the starts of a cell in a night lie off by what befalls it, in standard deviations.
fn fault(cell: usize, night: usize, since: f64) -> f64 {
    let off = GO_OFF.iter().find(|(c, n, _)| (*c, *n) == (cell, night));
    let wears = WEARS.0 == cell && WEARS.1.contains(&night);
    off.map_or(0.0, |(_, _, shift)| *shift) + if wears { 0.15 * since } else { 0.0 }
}

/// The starts of one cell in one night; tips differ by a tenth of the variance.
fn of_cell(rng: &mut ChaCha8Rng, cell: usize, night: usize, level: &mut f64) -> Vec<StartRow> {
    // The wearing tip is ground on the night that it comes into use.
    let phase = (WEARS.1[0] + cell + TIP_NIGHTS - WEARS.0 % TIP_NIGHTS) % TIP_NIGHTS;
    let age = (night + TIP_NIGHTS - phase) % TIP_NIGHTS;
    if age == 0 || night == 1 {
        *level = normal(rng);
    }
    let tip = format!("{}-{}", name(cell), night - age.min(night));
    let rows = (1..=STARTS).map(|number| {
        let since = (age as u32 * STARTS + number) as f64;
        let own = 0.1_f64.sqrt() * *level + 0.9_f64.sqrt() * normal(rng);
        let score = score(cell, own + fault(cell, night, since));
        let mut row = StartRow {
            // Cells name their files alike.
            recording: format!("{}/n{night:02}.wav", name(cell)).into(),
            date: Some(format!("2026-09-{night:02}").into()),
            tip_id: Some(tip.as_str().into()),
            ..start("A", number, score)
        };
        row.measures.set(Measure::SinceRegrind, Some(since));
        if (cell, night) == CLIPS {
            row.flags = vec![Flag::Clipped];
        }
        row
    });
    rows.collect()
}

/// Two cells with recordings of their own, which bear the same names, and one recording that the logger has not finished:
/// half of it lies there, and the whole comes the night after.
fn record(folder: &Path, night: usize) {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let put = |sample: &str, to: String, half: bool| {
        let bytes = std::fs::read(samples.join(sample)).unwrap();
        let path = folder.join(to);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        let end = if half { bytes.len() / 2 } else { bytes.len() };
        std::fs::write(path, &bytes[..end]).unwrap();
    };
    std::fs::copy(samples.join("job.toml"), folder.join("job.toml")).unwrap();
    put("lid-1-A1.wav", format!("cell41/n{night:02}.wav"), false);
    put("lid-1-A2.wav", format!("cell42/n{night:02}.wav"), false);
    put("lid-2-A3.wav", format!("cell43/n{night:02}.wav"), true);
    if night > 1 {
        put(
            "lid-2-A3.wav",
            format!("cell43/n{:02}.wav", night - 1),
            false,
        );
    }
}

/// Screens one night.
fn screened(folder: &Path, inputs: &[&str]) -> Value {
    let done = Command::new(env!("CARGO_BIN_EXE_tipstrike"))
        .arg("screen")
        .args(inputs)
        .args([
            "--by",
            "folder",
            "--append",
            "nights.csv",
            "--quiet",
            "--json",
            "-",
        ])
        .env("XDG_CACHE_HOME", folder.join("cache"))
        .current_dir(folder)
        .output()
        .unwrap();
    serde_json::from_slice(&done.stdout)
        .unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&done.stderr)))
}

/// Values of `key` of the entries of `list` that `which` takes.
fn texts(list: &Value, key: &str, which: impl Fn(&Value) -> bool) -> BTreeSet<String> {
    let entries = list.as_array().unwrap().iter().filter(|entry| which(entry));
    entries
        .map(|entry| entry[key].as_str().unwrap().to_owned())
        .collect()
}

/// What one night's answer names: cells with alarms, cells whose tip is called worn, cells that clip.
fn named(found: &Value) -> [BTreeSet<String>; 3] {
    let clipped = found["flags"].as_array().unwrap().iter();
    let clipped = clipped
        .filter(|flag| flag["flag"] == "clipped")
        .flat_map(|flag| flag["groups"].as_array().unwrap().clone());
    [
        texts(&found["alarms"], "group", |_| true),
        texts(&found["regrind"], "group", |wear| {
            wear["verdict"] == "wears"
        }),
        clipped
            .map(|cell| cell.as_str().unwrap().to_owned())
            .collect(),
    ]
}

#[test]
fn a_month_of_forty_cells_names_every_event_in_its_night_and_cell() {
    let folder = tempfile::tempdir().unwrap();
    let mut rng = ChaCha8Rng::seed_from_u64(1911);
    let mut levels = [0.0; CELLS];
    let (mut false_alarms, mut worn) = (Vec::new(), Vec::new());
    for night in 1..=NIGHTS {
        let mut rows = Vec::new();
        for (level, cell) in levels.iter_mut().zip(1..) {
            rows.extend(of_cell(&mut rng, cell, night, level));
        }
        let tonight = format!("night{night:02}.csv");
        let mut bytes = Vec::new();
        table::write_csv(&rows, &mut bytes).unwrap();
        std::fs::write(folder.path().join(&tonight), bytes).unwrap();
        let recorded = long() || [2, 3, 21].contains(&night);
        let recordings = format!("night{night:02}");
        if recorded {
            std::fs::create_dir(folder.path().join(&recordings)).unwrap();
            record(&folder.path().join(&recordings), night);
        }
        let inputs = [tonight.as_str(), recordings.as_str()];
        let found = screened(folder.path(), &inputs[..1 + usize::from(recorded)]);
        if recorded {
            holds_the_recordings(&found, night);
        }
        let [mut alarmed, wears, clipped] = named(&found);
        let off = GO_OFF.iter().find(|(_, n, _)| *n == night);
        if let Some((cell, _, _)) = off {
            assert!(alarmed.remove(&name(*cell)), "night {night}: {alarmed:?}");
            let answer = found["answer"].as_str().unwrap();
            assert!(
                answer.contains(&format!("of {} from about start", name(*cell))),
                "{answer}"
            );
        }
        if WEARS.1.contains(&night) {
            let tip_goes_off = alarmed.remove(&name(WEARS.0));
            worn.extend((tip_goes_off || wears.contains(&name(WEARS.0))).then_some(night));
        }
        let clips = (night == CLIPS.1).then(|| name(CLIPS.0));
        assert_eq!(clipped, clips.into_iter().collect(), "night {night}");
        false_alarms.extend(alarmed.into_iter().map(|cell| (night, cell)));
        let wrong = wears.into_iter().filter(|cell| *cell != name(WEARS.0));
        false_alarms.extend(wrong.map(|cell| (night, cell)));
        assert_eq!(
            found["pass"],
            found["alarms"].as_array().unwrap().is_empty(),
            "night {night}"
        );
    }
    println!("false alarms {false_alarms:?}, worn tip named in nights {worn:?}");
    assert!(false_alarms.len() <= 2, "{false_alarms:?}");
    assert!(
        !worn.is_empty() && worn.last() == Some(&WEARS.1[2]),
        "{worn:?}"
    );
    let kept = table::read(&folder.path().join("nights.csv")).unwrap();
    assert!(kept.len() >= CELLS * NIGHTS * STARTS as usize);
}

/// Cells with one file name stay two; half a file waits, and is measured when it is whole.
fn holds_the_recordings(found: &Value, night: usize) {
    let at_work = format!("cell43/n{night:02}.wav");
    assert_eq!(found["still_written"], serde_json::json!([at_work]));
    let read = texts(&found["recordings"], "recording", |_| true);
    let mut whole = vec![
        format!("cell41/n{night:02}.wav"),
        format!("cell42/n{night:02}.wav"),
    ];
    whole.extend((night > 1).then(|| format!("cell43/n{:02}.wav", night - 1)));
    for name in &whole {
        assert!(
            read.contains(name),
            "night {night}: {name} is not among {read:?}"
        );
    }
    assert!(!read.contains(&at_work));
}
