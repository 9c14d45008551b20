//! A job that is being begun: the text of `job.toml` and `runs.csv`, with what is known so far and room for the rest.

use std::fmt::Write;

use crate::job::sheet_text::SheetText;
use crate::job::{CurrentInput, JobInfo, Logger, Sign, VoltageInput};

/// What is known of a job before it was written down.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Draft {
    /// `[job]`.
    pub info: JobInfo,
    /// `[logger]`.
    pub logger: Logger,
    /// Keys of `[logger]` that were guessed, each with what it was guessed from.
    pub guessed: Vec<(&'static str, String)>,
    /// Names of the preps.
    pub preps: Vec<String>,
    /// Rows of the run sheet.
    pub runs: Vec<DraftRun>,
}

/// A row of the run sheet, as far as it is known.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct DraftRun {
    /// The recording, from the job's folder.
    pub file: String,
    /// The prep; empty where nothing tells.
    pub prep: String,
    /// The grinding; empty where nothing tells.
    pub tip_id: String,
    /// When it was recorded.
    pub date: String,
    /// What was guessed.
    pub note: String,
}

/// Columns of the run sheet, those that count most first.
const SHEET: [&str; 16] = [
    "file",
    "prep",
    "tip_id",
    "coupon",
    "date",
    "starts",
    "since_regrind",
    "set_a",
    "process",
    "start_method",
    "gas",
    "flow",
    "operator",
    "exclude",
    "tip_after",
    "note",
];

/// Keys of a prep to fill, each with what it takes.
const PREP_KEYS: [(&str, &str); 6] = [
    ("class", "\"WLa20\"              # ISO 6848 or AWS A5.12"),
    ("diameter", "\"2.4 mm\"          # or \"3/32 in\""),
    (
        "taper_deg",
        "30               # the full angle between the sides",
    ),
    (
        "tip",
        "\"point\"                # point, flat, rounded, balled",
    ),
    (
        "marks",
        "\"lengthwise\"         # lengthwise, crosswise, polished",
    ),
    ("wheel", "\"diamond, fine\""),
];

impl Draft {
    /// The text of `job.toml`.
    pub fn job_file(&self) -> String {
        let mut text = String::from(
            "# What is behind a # is a note or still to be filled in: take the # away then. docs/job.md has every key.\n\n[job]\n",
        );
        let info = [
            ("title", &self.info.title, "what is tried"),
            ("site", &self.info.site, "where"),
            ("who", &self.info.who, "who welds"),
            (
                "procedure",
                &self.info.procedure,
                "the procedure it belongs to",
            ),
        ];
        for (key, value, what) in info {
            match value {
                Some(value) => line(&mut text, key, &quoted(value), None),
                None => text += &format!("# {key} = \"{what}\"\n"),
            }
        }
        text += "\n[logger]\n";
        self.logger_keys(&mut text);
        for prep in &self.preps {
            let _ = write!(text, "\n[prep.{}]\n", key(prep));
            for (name, example) in PREP_KEYS {
                text += &format!("# {name} = {example}\n");
            }
        }
        text
    }

    fn logger_keys(&self, text: &mut String) {
        let logger = &self.logger;
        let guess = |key: &str| {
            let found = self.guessed.iter().find(|(of, _)| *of == key);
            found.map(|(_, from)| from.as_str())
        };
        if let Some(hz) = logger.mains_hz {
            line(text, "mains_hz", &hz.to_string(), guess("mains_hz"));
        }
        let sign = match logger.electrode_negative {
            Sign::Positive => "\"positive\"",
            Sign::Negative => "\"negative\"",
        };
        line(
            text,
            "electrode_negative",
            sign,
            guess("electrode_negative"),
        );
        if let Some(current) = &logger.current {
            line(text, "current", &current_keys(current), guess("current"));
        }
        if let Some(voltage) = &logger.voltage {
            line(text, "voltage", &voltage_keys(voltage), guess("voltage"));
        }
    }

    /// The text of `runs.csv`.
    pub fn run_sheet(&self) -> String {
        let mut sheet = SheetText::new(&SHEET);
        for run in &self.runs {
            sheet.push(&[
                ("file", &run.file),
                ("prep", &run.prep),
                ("tip_id", &run.tip_id),
                ("date", &run.date),
                ("note", &run.note),
            ]);
        }
        sheet.written()
    }
}

/// `key = value`, and where the value was guessed, from what.
fn line(text: &mut String, key: &str, value: &str, guessed: Option<&str>) {
    let note = guessed.map_or(String::new(), |from| format!("   # {from}"));
    text.push_str(&format!("{key} = {value}{note}\n"));
}

fn quoted(text: &str) -> String {
    toml::Value::from(text).to_string()
}

/// A name as a key, quoted where it must be.
fn key(name: &str) -> String {
    let bare = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    match !name.is_empty() && name.chars().all(bare) {
        true => name.to_owned(),
        false => quoted(name),
    }
}

fn current_keys(input: &CurrentInput) -> String {
    let shunt = input.shunt.map(|shunt| {
        let (amps, millivolts) = (shunt.amps, shunt.millivolts);
        format!("{{ amps = {amps}, millivolts = {millivolts} }}")
    });
    inline([
        ("channel", input.channel.map(|n| n.to_string())),
        ("column", input.column.as_deref().map(quoted)),
        ("shunt", shunt),
        ("amps_per_volt", input.amps_per_volt.map(number)),
        ("gain", input.gain.map(number)),
        ("volts_at_full_scale", input.volts_at_full_scale.map(number)),
        ("volts_per_unit", input.volts_per_unit.map(number)),
        ("amps_at_full_scale", input.amps_at_full_scale.map(number)),
        ("amps_per_unit", input.amps_per_unit.map(number)),
        ("offset", stated(input.offset)),
    ])
}

fn voltage_keys(input: &VoltageInput) -> String {
    inline([
        ("channel", input.channel.map(|n| n.to_string())),
        ("column", input.column.as_deref().map(quoted)),
        ("divider", input.divider.map(number)),
        ("volts_at_full_scale", input.volts_at_full_scale.map(number)),
        ("volts_per_unit", input.volts_per_unit.map(number)),
        ("offset", stated(input.offset)),
    ])
}

fn stated(offset: crate::job::Offset) -> Option<String> {
    match offset {
        crate::job::Offset::Stated(value) => Some(number(value)),
        crate::job::Offset::Auto => None,
    }
}

fn number(value: f64) -> String {
    toml::Value::from(value).to_string()
}

fn inline<const N: usize>(keys: [(&str, Option<String>); N]) -> String {
    let given = keys
        .into_iter()
        .filter_map(|(key, value)| Some(format!("{key} = {}", value?)));
    format!("{{ {} }}", given.collect::<Vec<_>>().join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{Job, Shunt};

    /// What is written is read again as it was meant.
    #[test]
    fn the_job_file_is_read_as_it_was_drafted() {
        let draft = Draft {
            info: JobInfo {
                title: Some("Lids \"two\" grinds".into()),
                ..JobInfo::default()
            },
            logger: Logger {
                mains_hz: Some(60.0),
                electrode_negative: Sign::Negative,
                current: Some(CurrentInput {
                    column: Some("Kanal A".into()),
                    shunt: Some(Shunt {
                        amps: 200.0,
                        millivolts: 60.0,
                    }),
                    gain: Some(50.0),
                    ..CurrentInput::default()
                }),
                voltage: Some(VoltageInput {
                    channel: Some(2),
                    divider: Some(20.0),
                    ..VoltageInput::default()
                }),
                ..Logger::default()
            },
            guessed: vec![("mains_hz", "from the hum".into())],
            preps: vec!["A".into(), "60° cut".into()],
            runs: Vec::new(),
        };
        let text = draft.job_file();
        let read = Job::parse(&text, "job.toml", ".".into()).unwrap();
        assert_eq!(read.logger, draft.logger, "{text}");
        assert_eq!(read.info, draft.info);
        let names: Vec<&String> = read.preps.keys().collect();
        assert_eq!(names, ["60° cut", "A"]);
        assert!(text.contains("mains_hz = 60   # from the hum\n"), "{text}");
    }
}
