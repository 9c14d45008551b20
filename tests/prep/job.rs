//! The job file and the run sheet: what is read, and what is said of what cannot be.

use std::fs;
use std::path::Path;

use tipstrike::Error;
use tipstrike::error::ErrorKind;
use tipstrike::job::{Job, Marks, Process, StartMethod, Tip};

const JOB: &str = r#"
[job]
title = "Kettle lids, two grinds"

[prep.A]
class = "WLa20"
diameter = "2.4 mm"
taper_deg = 30
tip = "point"
marks = "lengthwise"
wheel = "diamond, fine"

[prep.B]
class = "EWLa-2"
diameter = "3/32 in"
taper_deg = 60.0
tip = "flat"
tip_flat = "0,5 mm"
"#;

const PLAIN_SHEET: &str = "file,prep\na.wav,A\nb.wav,B\n";

fn folder_with(job: &str, sheet: &[u8]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("job.toml"), job).unwrap();
    fs::write(folder.path().join("runs.csv"), sheet).unwrap();
    folder
}

fn read(job: &str, sheet: &str) -> Result<Job, Error> {
    Job::read(folder_with(job, sheet.as_bytes()).path())
}

fn fault(job: &str, sheet: &str) -> String {
    read(job, sheet).unwrap_err().to_string()
}

#[test]
fn a_job_is_read_by_its_folder_and_by_its_file() {
    let folder = folder_with(JOB, PLAIN_SHEET.as_bytes());
    let by_folder = Job::read(folder.path()).unwrap();
    let by_file = Job::read(&folder.path().join("job.toml")).unwrap();
    assert_eq!(by_folder, by_file);
    assert_eq!(
        by_folder.info.title.as_deref(),
        Some("Kettle lids, two grinds")
    );
    let (a, b) = (&by_folder.preps["A"], &by_folder.preps["B"]);
    assert_eq!(a.class.unwrap().name(), "WLa20");
    assert_eq!(a.class, b.class, "EWLa-2 and WLa20 are one class");
    assert_eq!(
        (a.tip, a.marks),
        (Some(Tip::Point), Some(Marks::Lengthwise))
    );
    assert_eq!((a.size_mm(), b.size_mm()), (Some(2.4), Some(2.4)));
    assert_eq!(b.tip_flat.unwrap().mm(), 0.5);
    assert_eq!(by_folder.runs[1].path, folder.path().join("b.wav"));
}

/// A sheet as a spreadsheet of a country with decimal commas saves it.
#[test]
fn a_spreadsheets_sheet_is_read_with_all_its_habits() {
    let sheet = "\u{feff}File;PREP ; Set A;stickout;Arc gap;process;start_method;since_regrind;gas;bead_width;;\r\n\
         a.wav ;A;80,5;\"3/32\"\"\";2,4 mm;DC;HF;1;argon;4,25;;\r\n\
         ;;;;;;;;;;;\r\n\
         \r\n\
         sub\\b.wav;B; 120 ;10 mm;1/16 in;ac;lift;;\"argon; pure\";wide;;\r\n";
    let job = read(JOB, sheet).unwrap();
    let [a, b] = job.runs.as_slice() else {
        panic!("{} runs", job.runs.len())
    };
    assert_eq!((a.number, a.line, b.number, b.line), (1, 2, 2, 5));
    assert_eq!((a.set_a, b.set_a), (Some(80.5), Some(120.0)));
    approx::assert_abs_diff_eq!(a.stickout.unwrap().mm(), 2.38125, epsilon = 1e-12);
    assert_eq!(a.arc_gap.unwrap().mm(), 2.4);
    assert_eq!(
        (a.process, b.process),
        (Some(Process::Dc), Some(Process::Ac))
    );
    assert_eq!(
        (a.start_method, b.start_method),
        (Some(StartMethod::Hf), Some(StartMethod::Lift))
    );
    assert_eq!((a.since_regrind, b.since_regrind), (Some(1), None));
    assert_eq!(
        a.other["bead_width"], "4.25",
        "kept, and ready to be compared"
    );
    assert_eq!(b.other["bead_width"], "wide");
    assert_eq!(b.other["gas"], "argon; pure");
    assert!(b.path.ends_with("sub/b.wav"));
}

#[test]
fn sheets_in_other_encodings_and_with_a_separator_line_are_read() {
    let text = "file\tprep\tnote\r\na.wav\tA\tgrün\r\n";
    let utf16: Vec<u8> = [0xff, 0xfe]
        .into_iter()
        .chain(text.encode_utf16().flat_map(u16::to_le_bytes))
        .collect();
    let western: Vec<u8> = text.chars().map(|c| c as u8).collect();
    let with_mark = format!("sep=\t\r\n{text}").into_bytes();
    for sheet in [utf16, western, with_mark] {
        let job = Job::read(folder_with(JOB, &sheet).path()).unwrap();
        assert_eq!(job.runs[0].other["note"], "grün");
    }
}

#[test]
fn every_bad_cell_is_named_in_one_pass() {
    let sheet = "file,prep,set_a,process,stickout,set_en_pct,from_s,to_s,since_regrind,start_method\n\
         a.wav,A,eighty,dx,6,120,5,2,0,spark\n\
         ,C,-3,dc,3/32 in,70,-1,,1.5,hf\n\
         a.wav,A,80,ac,2.4 mm,68,0,1,1,lift,stray\n";
    let folder = folder_with(JOB, sheet.as_bytes());
    let error = Job::read(folder.path()).unwrap_err();
    assert_eq!(error.kind(), ErrorKind::Several, "one fault only");
    let said: Vec<String> = error.parts().iter().map(ToString::to_string).collect();
    let expected = [
        ("row 2, column set_a", "'eighty'"),
        ("row 2, column process", "'dx'"),
        (
            "row 2, column stickout",
            "'6' has no unit: write '6 mm' or '6 in'",
        ),
        ("row 2, column set_en_pct", "'120'"),
        ("row 2, column since_regrind", "'0'"),
        ("row 2, column start_method", "hf, lift, scratch"),
        ("row 2, column to_s", "'2'"),
        ("row 3, column file", "is empty"),
        ("row 3, column prep", "'C'"),
        ("row 3, column set_a", "'-3'"),
        ("row 3, column from_s", "'-1'"),
        ("row 3, column since_regrind", "'1.5'"),
        ("row 4", "'stray' in column number 11"),
    ];
    for (place, what) in expected {
        let found = said
            .iter()
            .any(|s| s.contains(place) && s.contains(what) && s.contains("runs.csv"));
        assert!(found, "nothing said of {place}, {what}: {said:#?}");
    }
    assert_eq!(said.len(), expected.len(), "{said:#?}");
}

#[test]
fn an_unknown_key_names_the_nearest_known_one_and_its_line() {
    let cases = [
        (
            JOB.replace("taper_deg = 30", "taper_dge = 30"),
            "taper_deg",
            "[prep.A]",
        ),
        (JOB.replace("title", "titel"), "title", "[job]"),
        (
            JOB.replace("\"lengthwise\"", "\"lengthways\""),
            "lengthwise",
            "[prep.A]",
        ),
        (format!("{JOB}\n[measurig]\n"), "measuring", "line 20"),
        (
            format!("{JOB}\n[measuring]\nobserve = 1.0\n"),
            "observe_s",
            "line 21, [measuring]",
        ),
        (
            format!("{JOB}\n[targets]\nstart = {{ good = 1, poor = 2 }}\n"),
            "start_ms",
            "[targets]",
        ),
        (
            format!("{JOB}\n[prep.B.targets]\nstart_ms = {{ godo = 1 }}\n"),
            "good",
            "start_ms",
        ),
    ];
    for (job, nearest, place) in cases {
        let said = fault(&job, PLAIN_SHEET);
        assert!(
            said.contains(&format!("Did you mean '{nearest}'?")),
            "{said}"
        );
        assert!(said.contains(place), "{said}");
    }
}

#[test]
fn a_fault_in_each_section_is_named_in_one_pass() {
    let job = JOB
        .replace("\"WLa20\"", "\"WLa21\"")
        .replace("\"3/32 in\"", "\"3/32\"")
        .replace("title", "titel")
        + "\n[measuring]\nobserve_s = -1\n";
    let said = fault(&job, PLAIN_SHEET);
    for part in [
        "WLa21",
        "the nearest is WLa2",
        "'3/32' has no unit",
        "titel",
        "observe_s = -1",
    ] {
        assert!(said.contains(part), "{part} is missing in {said}");
    }
}

#[test]
fn measuring_numbers_that_cannot_work_together_are_refused() {
    for (keys, part) in [
        ("hold_ms = 0", "hold_ms = 0, expected a number above 0"),
        (
            "conduct_release = 1.5",
            "a higher current than it lights at",
        ),
        ("wander_from_hz = 300", "from 300 to 200 Hz is empty"),
        ("observe_s = nan", "observe_s = nan"),
        (
            "observe_s = \"1 s\"",
            "found the text \"1 s\", expected a number",
        ),
    ] {
        let said = fault(&format!("{JOB}\n[measuring]\n{keys}\n"), PLAIN_SHEET);
        assert!(
            said.contains(part) && said.contains("[measuring]"),
            "{said}"
        );
    }
}

#[test]
fn values_that_no_electrode_has_are_refused() {
    for (from, to, part) in [
        ("taper_deg = 30", "taper_deg = 200", "200"),
        ("\"2.4 mm\"", "\"2.4 in\"", "60.96 mm"),
        ("\"2.4 mm\"", "2.4", "a length with its unit in quotes"),
        ("\"0,5 mm\"", "\"0,5 in\"", "wider than the electrode"),
    ] {
        let said = fault(&JOB.replace(from, to), PLAIN_SHEET);
        assert!(said.contains(part), "{said}");
    }
}

#[test]
fn paths_may_not_leave_the_folder_of_the_job_file() {
    for path in [
        "../a.wav",
        "sub/../../a.wav",
        "/etc/a.wav",
        "C:\\a.wav",
        "..\\a.wav",
    ] {
        let said = fault(JOB, &format!("file,prep\n{path},A\n"));
        assert!(said.contains("row 2, column file"), "{path}: {said}");
    }
}

#[cfg(unix)]
#[test]
fn a_link_that_leaves_the_folder_is_refused() {
    let elsewhere = tempfile::tempdir().unwrap();
    fs::write(elsewhere.path().join("a.wav"), "").unwrap();
    let folder = folder_with(JOB, b"file,prep\nlinked/a.wav,A\n");
    std::os::unix::fs::symlink(elsewhere.path(), folder.path().join("linked")).unwrap();
    let said = Job::read(folder.path()).unwrap_err().to_string();
    assert!(said.contains("a link that leaves the folder"), "{said}");
}

#[test]
fn a_start_cannot_be_counted_twice() {
    let said = fault(JOB, "file,prep,from_s,to_s\na.wav,A,0,10\na.wav,B,9,20\n");
    assert!(
        said.contains("row 3, column file: 'a.wav' stands in row 2 too"),
        "{said}"
    );
    assert!(read(JOB, "file,prep,from_s,to_s\na.wav,A,0,10\na.wav,B,10,\n").is_ok());
}

#[test]
fn a_column_name_that_is_a_slip_or_taken_is_an_error_and_a_new_one_is_kept() {
    let slip = fault(JOB, "file,prep,thicknes\na.wav,A,1 mm\n");
    assert!(slip.contains("Did you mean 'thickness'?"), "{slip}");
    let taken = fault(JOB, "file,prep,wander_v\na.wav,A,1\n");
    assert!(taken.contains("has a name of the starts table"), "{taken}");
    let missing = fault(JOB, "recordings,prep\na.wav,A\n");
    assert!(missing.contains("there is no column 'file'"), "{missing}");
    let twice = fault(JOB, "file,prep,Note,note\na.wav,A,x,y\n");
    assert!(twice.contains("two columns are named 'note'"), "{twice}");
    let job = read(JOB, "file,prep,note2,colour\na.wav,A,x,straw\n").unwrap();
    assert_eq!(job.runs[0].other["colour"], "straw");
}

#[test]
fn a_job_without_preps_runs_or_files_says_so() {
    assert!(fault("[job]\n", PLAIN_SHEET).contains("there is no prep"));
    assert!(fault(JOB, "").contains("the sheet is empty"));
    assert!(fault(JOB, "file,prep\n").contains("no runs"));
    let nowhere = Job::read(Path::new("no such folder/job.toml")).unwrap_err();
    assert!(nowhere.to_string().contains("cannot read"), "{nowhere}");
}

#[test]
fn a_name_without_a_prep_is_told_the_nearest() {
    let job = JOB.replace("[prep.A]", "[prep.fine]");
    let said = fault(&job, "file,prep\na.wav,fien\n");
    assert!(
        said.contains("'fien' is no prep of the job file. Did you mean 'fine'?"),
        "{said}"
    );
}
