//! Tables written and read, and starts gathered from folders and jobs.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use tipstrike::flag::Flag;
use tipstrike::job::{Job, Run};
use tipstrike::measure::Measure;
use tipstrike::measuring::cache::Cache;
use tipstrike::measuring::gather::{GatherOptions, JobRows, StartSet, gather, gather_for};
use tipstrike::measuring::table;
use tipstrike::score::StartRow;

use crate::study_support::{start, starts};

/// What a sheet says goes through a table unchanged, as a number only where it is written as one.
#[test]
fn sheet_texts_keep_their_writing_in_json_lines() {
    let written = |text: &str| {
        let mut row = start("A", 1, 90.0);
        Arc::make_mut(&mut row.sheet).insert("mine".into(), text.into());
        let mut bytes = Vec::new();
        table::write_jsonl(&[row], &mut bytes).unwrap();
        let value: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
        value["mine"].to_string()
    };
    for (text, json) in [
        ("7", "7"),
        ("007", "\"007\""),
        ("7.0", "\"7.0\""),
        ("0.5", "0.5"),
        ("-3", "-3.0"),
        ("8999999999999999", "8999999999999999"),
        ("9000000000000000", "9000000000000000.0"),
        ("NaN", "\"NaN\""),
        ("", "null"),
        ("soft", "\"soft\""),
    ] {
        assert_eq!(written(text), json, "{text}");
    }
}

/// Counts are whole in a table, and a measure may lie at either end of what it can be.
#[test]
fn values_at_the_ends_of_what_can_be_are_read_back() {
    let mut row = start("A", 1, 90.0);
    row.instants.t_lit_s = row.instants.t_first_s;
    for (measure, value) in [
        (Measure::Attempts, 2.0),
        (Measure::Dropouts, 0.0),
        (Measure::EnSharePct, 100.0),
        (Measure::WanderV, 0.0),
        (Measure::DriftV, -1.5),
        (Measure::AcHz, 120.5),
    ] {
        row.measures.set(measure, Some(value));
    }
    let mut other = start("A", 2, 0.0);
    other.measures.set(Measure::EnSharePct, Some(0.0));
    other.score = Some(100.0);
    let rows = [row, other];
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("starts.csv");
    table::write_csv(&rows, std::fs::File::create(&path).unwrap()).unwrap();
    let text = std::fs::read_to_string(&path).unwrap();
    assert!(text.contains(",2,") && !text.contains("2.0,"), "{text}");
    assert_eq!(table::read(&path).unwrap(), rows);
    let semicolons = "recording;run;prep;start;t_lit_s;score;mine;sheet_score\na.wav;1;A;1;2,5;80,5;2,4 mm;1,5\n";
    std::fs::write(&path, semicolons).unwrap();
    let read = table::read(&path).unwrap().remove(0);
    assert_eq!((read.instants.t_lit_s, read.score), (Some(2.5), Some(80.5)));
    assert_eq!(
        (read.sheet["mine"].as_str(), read.sheet["score"].as_str()),
        ("2,4 mm", "1,5")
    );
}

/// A recording at rest: 0.4 s of a kilohertz.
fn at_rest(path: &Path) {
    let rows = (0..400)
        .map(|k| format!("{:.3},{}\n", f64::from(k) / 1e3, k % 2))
        .collect::<String>();
    std::fs::write(path, "time (s),current (A)\n".to_owned() + &rows).unwrap();
}

#[test]
fn parts_without_a_start_are_told_as_what_they_are() {
    let folder = tempfile::tempdir().unwrap();
    at_rest(&folder.path().join("a.csv"));
    std::fs::write(folder.path().join("job.toml"), "[prep.A]\n").unwrap();
    let sheet =
        "file,prep,from_s,to_s\na.csv,A,,0.1\na.csv,A,0.1,0.2\na.csv,A,0.2,0.4\na.csv,A,0.4,9\n";
    std::fs::write(folder.path().join("runs.csv"), sheet).unwrap();
    let told = |inputs: &[std::path::PathBuf]| gather(inputs, &GatherOptions::default()).unwrap();
    let found = told(&[folder.path().to_owned()]);
    let part = "No start was found in the part of a.csv that the sheet names.";
    assert_eq!(
        found.empty,
        [
            part,
            part,
            part,
            "No start in a.csv: from_s = 0.4 s lies past its end at 0.40 s."
        ]
    );
    assert_eq!(found.sources.len(), 1, "one recording in four parts");
    std::fs::write(folder.path().join("runs.csv"), "file,prep\na.csv,A\n").unwrap();
    assert_eq!(
        told(&[folder.path().join("job.toml")]).empty,
        ["No start was found in a.csv."]
    );
}

#[test]
fn a_folder_gives_its_recordings_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let names = ["b.CSV", "a.csv", ".hidden.csv", "notes.md", "c.txt"];
    for (name, more) in names.into_iter().zip(1..) {
        let path = folder.path().join(name);
        at_rest(&path);
        // No two of one content, which would count once.
        let text = std::fs::read_to_string(&path).unwrap() + &format!("0.400,{more}\n");
        std::fs::write(path, text).unwrap();
    }
    std::fs::create_dir(folder.path().join("d.csv")).unwrap();
    let found = gather(&[folder.path().to_owned()], &GatherOptions::default()).unwrap();
    let names: Vec<&str> = found.sources.iter().map(|s| s.recording.as_str()).collect();
    assert_eq!(names, ["a.csv", "b.CSV", "c.txt"]);
    assert!(found.jobs[0].job.runs.iter().all(|run| run.prep == "-"));
    std::fs::write(folder.path().join("job.toml"), "[prep.A]\n").unwrap();
    let options = GatherOptions {
        prep: Some("A"),
        ..GatherOptions::default()
    };
    let found = gather(&[folder.path().to_owned()], &options).unwrap();
    assert!(found.jobs[0].job.runs.iter().all(|run| run.prep == "A"));
    let options = GatherOptions {
        prep: Some("B"),
        ..GatherOptions::default()
    };
    assert!(gather(&[folder.path().to_owned()], &options).is_err());
}

#[test]
fn counts_are_whole_in_json_lines_as_long_as_they_are_counts() {
    let written = |attempts: f64| {
        let mut row = start("A", 1, 90.0);
        row.measures.set(Measure::Attempts, Some(attempts));
        let mut bytes = Vec::new();
        table::write_jsonl(&[row], &mut bytes).unwrap();
        let value: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
        value["attempts"].to_string()
    };
    assert_eq!(
        [0.0, 2.0, 1.5, -1.0, 9e15].map(written),
        ["0", "2", "1.5", "-1.0", "9000000000000000.0"]
    );
}

#[test]
fn tables_bring_no_details_and_a_prep_picks_its_rows() {
    let folder = tempfile::tempdir().unwrap();
    let paths = ["a", "b"].map(|name| folder.path().join(format!("{name}.csv")));
    for (path, preps) in paths.iter().zip([["A", "B"], ["A", "C"]]) {
        let mut rows: Vec<StartRow> = preps
            .iter()
            .flat_map(|prep| starts(prep, &[80.0, 90.0]))
            .collect();
        rows.iter_mut().for_each(|row| {
            row.recording =
                format!("{}-{}", path.file_stem().unwrap().display(), row.recording).into()
        });
        table::write_csv(&rows, std::fs::File::create(path).unwrap()).unwrap();
    }
    let all = gather(&paths, &GatherOptions::default()).unwrap();
    assert_eq!((all.rows.len(), all.details.len()), (8, 0));
    let of_a = gather(
        &paths,
        &GatherOptions {
            prep: Some("A"),
            ..GatherOptions::default()
        },
    )
    .unwrap();
    assert_eq!((of_a.rows.len(), of_a.details.len()), (4, 0));
    assert!(of_a.rows.iter().all(|row| &*row.prep == "A"));
    let twice = [paths[0].clone(), paths[0].clone()];
    assert!(
        gather(&twice, &GatherOptions::default())
            .unwrap_err()
            .to_string()
            .contains("comes in twice")
    );
}

#[test]
fn a_prep_picks_the_runs_of_a_job_and_each_is_told_when_done() {
    let folder = tempfile::tempdir().unwrap();
    at_rest(&folder.path().join("a.csv"));
    std::fs::write(folder.path().join("job.toml"), "[prep.A]\n[prep.B]\n").unwrap();
    std::fs::write(
        folder.path().join("runs.csv"),
        "file,prep,from_s,to_s\na.csv,A,0,0.1\na.csv,B,0.1,0.2\na.csv,B,0.2,0.3\n",
    )
    .unwrap();
    let told = std::sync::Mutex::new(Vec::new());
    let tell = |done: usize, of: usize| told.lock().unwrap().push((done, of));
    let options = GatherOptions {
        prep: Some("B"),
        progress: Some(&tell),
        ..GatherOptions::default()
    };
    let found = gather(&[folder.path().to_owned()], &options).unwrap();
    assert!(found.jobs[0].job.runs.iter().all(|run| run.prep == "B"));
    let mut told = told.into_inner().unwrap();
    told.sort_unstable();
    assert_eq!(told, [(1, 1)], "one recording, however many parts of it");
    assert!(
        gather(
            &[folder.path().to_owned()],
            &GatherOptions {
                prep: Some("C"),
                ..GatherOptions::default()
            }
        )
        .is_err()
    );
}

/// The findings of the rows against the sheet name their job only where there are several.
#[test]
fn findings_of_several_jobs_name_their_job() {
    let of = |titles: &[&str]| {
        let mut gathered = StartSet::default();
        for title in titles {
            let text = format!("[job]\ntitle = \"{title}\"\n[prep.A]\n");
            let mut job = Job::parse(&text, "job.toml", Default::default()).unwrap();
            job.runs = vec![Run {
                number: 1,
                file: "A.wav".into(),
                prep: "A".into(),
                set_a: Some(150.0),
                ..Run::default()
            }];
            let first = gathered.rows.len();
            let mut rows = starts("A", &[80.0; 5]);
            rows.iter_mut()
                .for_each(|row| row.measures.set(Measure::RunA, Some(100.0)));
            gathered.rows.extend(rows);
            gathered.jobs.push(JobRows {
                job,
                rows: first..first + 5,
            });
        }
        gathered
            .after()
            .into_iter()
            .map(|finding| finding.prep)
            .collect::<Vec<_>>()
    };
    assert_eq!(of(&["lids"]), ["A"]);
    assert_eq!(of(&["lids", "skiffs"]), ["A of lids", "A of skiffs"]);
}

/// Half a second of rest, 0.1 s open at −70 V, 1.5 s of −100 A at −14 V, a rest: at 2 kHz.
fn electrode_positive(path: &Path) {
    let row = |k: usize| {
        let (amps, volts) = match k {
            1000..1200 => (0.0, -70.0),
            1200..4200 => (-100.0, -14.0),
            _ => (0.0, 0.0),
        };
        let noise = (k * 7 % 11) as f64 / 100.0;
        format!(
            "{:.4},{:.2},{:.2}\n",
            k as f64 / 2000.0,
            amps + noise,
            volts + noise
        )
    };
    let rows: String = (0..5200).map(row).collect();
    std::fs::write(
        path,
        "time (s),current (A),voltage (V)\n".to_owned() + &rows,
    )
    .unwrap();
}

/// On a run that the sheet calls dcep, electrode positive is no finding; a picture is made where one is asked for, cache or not.
#[test]
fn the_sheet_answers_for_the_polarity_and_pictures_are_made_when_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    electrode_positive(&folder.path().join("a.csv"));
    std::fs::write(folder.path().join("job.toml"), "[prep.A]\n").unwrap();
    let gathered = |process: &str, options: &GatherOptions| {
        std::fs::write(
            folder.path().join("runs.csv"),
            format!("file,prep,process\na.csv,A,{process}\n"),
        )
        .unwrap();
        gather(&[folder.path().to_owned()], options).unwrap()
    };
    let flags = |found: &StartSet| {
        found.sources[0]
            .findings
            .iter()
            .map(|f| f.flag)
            .collect::<Vec<_>>()
    };
    let dc = gathered("dc", &GatherOptions::default());
    assert!(
        flags(&dc).contains(&Flag::Polarity),
        "{:?}",
        dc.sources[0].findings
    );
    let dcep = gathered("dcep", &GatherOptions::default());
    let mut others = flags(&dc);
    others.retain(|flag| *flag != Flag::Polarity);
    assert_eq!(flags(&dcep), others);
    assert_eq!((dc.rows.len(), dc.details[0].preview.is_some()), (1, false));
    let cache = Cache::open(&folder.path().join("kept"), "this").unwrap();
    for pictures in [false, true, true] {
        let options = GatherOptions {
            previews: pictures,
            cache: Some(&cache),
            ..GatherOptions::default()
        };
        assert_eq!(
            gathered("dc", &options).details[0].preview.is_some(),
            pictures
        );
    }
}

/// 130 recordings, each a row shorter than the one before, on one tip: 64 are measured at a time, and the count goes on from one
/// share to the next. Of the hundredth nothing can be read.
#[test]
fn rows_are_taken_in_order_while_the_next_recordings_are_measured() {
    const COUNT: usize = 130;
    let folder = tempfile::tempdir().unwrap();
    let first = folder.path().join("0.csv");
    electrode_positive(&first);
    let whole = std::fs::read_to_string(&first).unwrap();
    let lines: Vec<&str> = whole.split_inclusive('\n').collect();
    let mut sheet = "file,prep,tip_id,since_regrind,soft\n0.csv,A,T1,5,\n".to_owned();
    for k in 1..COUNT {
        let text = match k {
            99 => "no table".to_owned(),
            _ => lines[..lines.len() - k].concat(),
        };
        std::fs::write(folder.path().join(format!("{k}.csv")), text).unwrap();
        sheet += &format!("{k}.csv,A,T1,,\n");
    }
    std::fs::write(folder.path().join("runs.csv"), sheet).unwrap();
    std::fs::write(folder.path().join("job.toml"), "[prep.A]\n").unwrap();
    let inputs = [folder.path().to_owned()];
    let all = gather(&inputs, &GatherOptions::default()).unwrap();
    assert_eq!((all.rows.len(), all.not_read.len()), (COUNT - 1, 1));

    let done = AtomicUsize::new(0);
    let (mut taken, mut when) = (Vec::new(), Vec::new());
    let mut take = |_: &BTreeSet<String>, rows: &[StartRow]| {
        taken.extend_from_slice(rows);
        when.push((done.load(Ordering::SeqCst), taken.len()));
        Ok(())
    };
    let tell = |count: usize, _: usize| _ = done.fetch_max(count, Ordering::SeqCst);
    let options = GatherOptions {
        progress: Some(&tell),
        ..GatherOptions::default()
    };
    let left = gather_for(&inputs, &options, Some(&mut take)).unwrap();
    assert_eq!(when[..3], [(64, 64), (128, 127), (130, 129)]);
    assert_eq!(taken, all.rows);
    assert!(left.rows.is_empty() && left.details.is_empty());
    let counts = [0, 98, 99].map(|k| taken[k].measures.since_regrind());
    assert_eq!(counts, [Some(5.0), Some(103.0), None]);
}
