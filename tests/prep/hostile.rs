//! Whatever stands in the files, reading them ends in a job or in an error that says something.

use std::fs;
use std::path::PathBuf;

use proptest::prelude::*;
use tipstrike::job::{Class, Job, Length};

const JOB: &str = "[prep.A]\n[prep.B]\n";

fn read_sheet(sheet: &[u8]) -> Result<Job, tipstrike::Error> {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("job.toml"), JOB).unwrap();
    fs::write(folder.path().join("runs.csv"), sheet).unwrap();
    Job::read(folder.path())
}

fn says_something(result: Result<Job, tipstrike::Error>) -> bool {
    result.map_or_else(
        |e| !e.to_string().trim().is_empty(),
        |job| !job.runs.is_empty(),
    )
}

#[test]
fn odd_sheets_end_in_words() {
    let sheets: [&[u8]; 12] = [
        b"",
        b"\n\n\n",
        b"\xef\xbb\xbf",
        b"\xff\xfe",
        b"file,prep",
        b"file,prep\n\"a.wav,A\n",
        b"sep=;\n",
        b"sep=;\nfile;prep\n",
        b"file,prep\n,,,,,,\n",
        b"file\r\ra.wav\r",
        b"file,prep\n\0,\0\n",
        b"file,prep\n=cmd|' /C calc'!A0,A\n",
    ];
    for sheet in sheets {
        assert!(says_something(read_sheet(sheet)), "{sheet:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn any_bytes_as_a_sheet_are_survived(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        prop_assert!(says_something(read_sheet(&bytes)));
    }

    #[test]
    fn any_cells_in_known_columns_are_survived(
        cells in prop::collection::vec("[-0-9a-z.,/\"µ ;=]{0,12}", 44)
    ) {
        let columns = "file,prep,coupon,set_a,process,start_method,set_en_pct,ac_hz,gas,flow,cup,\
            material,thickness,stickout,arc_gap,upslope_s,since_regrind,from_s,to_s,operator,tip_after,note";
        let quoted: Vec<String> = cells.iter().map(|c| format!("\"{}\"", c.replace('"', "\"\""))).collect();
        let sheet = format!("{columns}\n{}\n{}\n", quoted[..22].join(","), quoted[22..].join(","));
        prop_assert!(says_something(read_sheet(sheet.as_bytes())));
    }

    #[test]
    fn any_text_as_a_job_a_length_or_a_class_is_survived(text in "\\PC{0,80}") {
        let _ = Job::parse(&text, "job.toml", PathBuf::new());
        let _ = Job::parse(&format!("[prep.A]\nclass = {text}\n"), "job.toml", PathBuf::new());
        let _ = Job::parse(&format!("[prep.A]\ndiameter = '{text}'\n"), "job.toml", PathBuf::new());
        let _ = Length::parse(&text);
        let _ = Class::parse(&text);
    }
}
