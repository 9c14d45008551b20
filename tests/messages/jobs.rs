//! Job files with one fault each, and the whole message that it gets.

use tipstrike::job::Job;

use super::{all_said, lacking, said};

#[test]
fn of_a_prep() {
    let of_prep = |key: &str| format!("[prep.A]\n{key}\n");
    let cases = [
        (
            "[job]\ntitle = \"lids\"\n".to_owned(),
            "no-prep",
            "job.toml: there is no prep. Add a table [prep.NAME] for each way the tip was prepared",
        ),
        (
            of_prep("grind = 1"),
            "unknown-key",
            "line 2, [prep.A], grind: 'grind' is not known. Use one of ",
        ),
        (
            of_prep("taper = 1"),
            "unknown-key",
            "'taper' is not known. Did you mean 'taper_deg'?",
        ),
        (
            of_prep("taper_deg = \"30\""),
            "wrong-type",
            "[prep.A], taper_deg: found the text \"30\", expected a number",
        ),
        (
            of_prep("taper_deg = 180"),
            "invalid-value",
            "taper_deg = 180 is not an included angle between 0 and 180 degrees. It is the full angle between the two sides of the taper",
        ),
        (
            of_prep("diameter = 2.4"),
            "wrong-type",
            "found the number 2.4, expected a length with its unit in quotes, such as \"2.4 mm\" or \"3/32 in\"",
        ),
        (
            of_prep("diameter = \"2.4\""),
            "invalid-value",
            "'2.4' has no unit: write '2.4 mm' or '2.4 in'",
        ),
        (
            of_prep("diameter = \"thin\""),
            "invalid-value",
            "'thin' is not a length such as '2.4 mm' or '3/32 in'",
        ),
        (
            of_prep("diameter = \"3/0 in\""),
            "invalid-value",
            "'3/0 in' is not a length such as '2.4 mm' or '3/32 in'",
        ),
        (
            of_prep("diameter = \"-1 mm\""),
            "invalid-value",
            "'-1 mm' is not a length: it cannot be negative",
        ),
        (
            of_prep("diameter = \"24 mm\""),
            "invalid-value",
            "diameter is 24 mm, which no tungsten electrode has. Check the unit",
        ),
        (
            of_prep("diameter = \"2.4 mm\"\ntip_flat = \"3 mm\""),
            "invalid-value",
            "tip_flat (3 mm) is wider than the electrode (2.4 mm). Check the units of both",
        ),
        (
            of_prep("class = 20"),
            "wrong-type",
            "found the number 20, expected an electrode class in quotes, such as \"WLa20\" or \"EWLa-2\"",
        ),
        (
            of_prep("class = \"WLa 25\""),
            "invalid-value",
            "'WLa 25' is no class of ISO 6848 (such as WLa20) or AWS A5.12 (such as EWLa-2); the nearest is WLa",
        ),
        (
            of_prep("class = \"blue\""),
            "invalid-value",
            "'blue': a colour alone does not say the class (grey is EWG in AWS A5.12-98 and WCe20 in ISO 6848): write the designation, or name the standard, as in 'ISO 6848 blue'",
        ),
        (
            of_prep("class = \"AWS grey\""),
            "invalid-value",
            "'AWS grey': AWS editions differ on grey (EWG in the 1998 edition, EWCe-2 in a later one): write the designation",
        ),
        (
            of_prep("wheel = true"),
            "wrong-type",
            "found true, expected text in quotes",
        ),
    ];
    jobs_said(&cases);
}

#[test]
fn of_targets_and_sections() {
    let of_prep = |key: &str| format!("[prep.A]\n{key}\n");
    let cases = [
        (
            of_prep("[targets]\nstart_ms = { good = -1, poor = 2 }"),
            "invalid-value",
            "good = -1, expected a finite number from 0",
        ),
        (
            of_prep("[targets]\nstart_ms = { good = 1, poor = 2, shape = 0 }"),
            "invalid-value",
            "shape = 0, expected a finite number above 0",
        ),
        (
            of_prep("[targets]\nstart_ms = { good = 3, poor = 2 }"),
            "unusable-target",
            "but good must be below poor. Give both good and poor",
        ),
        (
            of_prep("[targets]\nstart_s = { good = 1, poor = 2 }"),
            "unusable-target",
            "is not a measure that can have a target. Did you mean 'start_ms'?",
        ),
        (
            of_prep("[targets]\nx = { good = 1, poor = 2 }"),
            "unusable-target",
            "is not a measure that can have a target. Targets can be set on delay_ms, ",
        ),
        (
            of_prep("[targets]\nrough_attempts = 0"),
            "invalid-value",
            "rough_attempts = 0, expected a whole number from 1",
        ),
        (
            of_prep("[measuring]\nobserve_s = 0"),
            "invalid-value",
            "observe_s = 0, expected a number above 0",
        ),
        (
            of_prep("[measuring]\nconduct_release = 2"),
            "invalid-value",
            "conduct_release = 2 is above 1: an arc would go out at a higher current than it lights at",
        ),
        (
            of_prep("[measuring]\nwander_from_hz = 900\nwander_to_hz = 200"),
            "invalid-value",
            "the wander band from 900 to 200 Hz is empty",
        ),
        (
            of_prep("[logger]\ncurrent = 1"),
            "wrong-type",
            "found the number 1, expected a table such as { key = value }",
        ),
        (
            of_prep("[logger]\ncurrent = { channel = -1 }"),
            "wrong-type",
            "found the number -1, expected a whole number from 0",
        ),
        (
            of_prep("[logger]\ncurrent = { offset = \"none\" }"),
            "invalid-value",
            "an offset is a number or \"auto\"",
        ),
    ];
    jobs_said(&cases);
}

fn jobs_said(cases: &[(String, &str, &str)]) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.toml");
    let wrong = cases.iter().filter_map(|(job, heading, message)| {
        std::fs::write(&path, job).unwrap();
        lacking(job, &Job::read(&path).into(), heading, message)
    });
    all_said(wrong.collect());
}

#[test]
fn of_a_session() {
    let job = ("job.toml", "[prep.A]\n[prep.B]\n");
    let cases = [
        (
            vec![job, ("runs.csv", "file,prep\ns.csv,A\n"), ("s.csv", "")],
            "other.csv",
            "nothing-planned",
            "runs.csv: every row has its recording already: there is nothing to strike. Write rows for what is to be struck, or let plan --sheet or begin --tips write them",
        ),
        (
            vec![job, ("runs.csv", "file,prep\ns.csv,A\n")],
            "s.csv",
            "nothing-planned",
            "runs.csv, row 2, column starts: does not say how many starts to strike. Give each row to come its number of starts",
        ),
        (
            vec![job, ("runs.csv", "file,prep,starts\ns.csv,A,4\n")],
            "../s.csv",
            "outside-the-job",
            "../s.csv: lies outside the folder of the job. Let the recorder write into that folder: the run sheet names recordings from there",
        ),
        (
            vec![job, ("runs.csv", "file,prep,starts\ns.csv,A,some\n")],
            "s.csv",
            "sheet-cell",
            "'some' is not a whole number from 0. Give the number of starts that this row covers; 0 where none was struck yet",
        ),
        (
            vec![
                job,
                ("runs.csv", "file,prep,starts,planned\ns.csv,A,0,some\n"),
            ],
            "s.csv",
            "sheet-cell",
            "'some' is not a whole number from 0. Give the number of starts to strike",
        ),
    ];
    let wrong = cases
        .iter()
        .filter_map(|(files, follow, heading, message)| {
            let said = said(files, &["strike", "job.toml", "--follow", follow]);
            lacking(follow, &said, heading, message)
        });
    all_said(wrong.collect());
}
