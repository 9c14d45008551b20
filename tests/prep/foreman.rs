//! Sheets and what a good foreman says of them: level, what about, words of the cause, and who says so.
//!
//! A row starts from a sound prep (WLa20, 2.4 mm, 30° point, lengthwise) on a sound row (DC electrode
//! negative, 80 A, high frequency) and changes what it names.

use tipstrike::fit::{FitFinding, Level, fit};
use tipstrike::job::{Job, Length, Process, Run, StartMethod};

/// Keys of the prep that are lengths, and those that are words.
const PREP_LENGTHS: [&str; 2] = ["diameter", "tip_flat"];
const PREP_WORDS: [&str; 4] = ["class", "tip", "marks", "wheel"];

/// The job of one sheet: `diameter=3.2 mm; process=ac; set_en_pct=70`. An empty value takes the key out.
pub(super) fn sheet(changes: &str) -> Job {
    let mut prep = vec![
        ("class", "WLa20"),
        ("diameter", "2.4 mm"),
        ("taper_deg", "30"),
        ("tip", "point"),
        ("marks", "lengthwise"),
    ];
    let mut run = Run {
        number: 1,
        line: 2,
        file: "a.wav".to_owned(),
        prep: "A".to_owned(),
        set_a: Some(80.0),
        process: Some(Process::Dc),
        start_method: Some(StartMethod::Hf),
        ..Run::default()
    };
    for change in changes.split(';').map(str::trim).filter(|c| !c.is_empty()) {
        let (key, value) = change.split_once('=').expect(change);
        let of_prep =
            key == "taper_deg" || PREP_LENGTHS.contains(&key) || PREP_WORDS.contains(&key);
        match of_prep {
            true => {
                prep.retain(|(known, _)| *known != key);
                prep.push((key, value));
            }
            false => write(&mut run, key, value),
        }
    }
    let keys: String = prep
        .iter()
        .filter(|(_, value)| !value.is_empty())
        .map(|(key, value)| match *key {
            "taper_deg" => format!("{key} = {value}\n"),
            _ => format!("{key} = \"{value}\"\n"),
        })
        .collect();
    let mut job = Job::parse(&format!("[prep.A]\n{keys}"), "job.toml", Default::default())
        .unwrap_or_else(|e| panic!("{changes}: {e}"));
    job.runs = vec![run];
    job
}

fn write(run: &mut Run, column: &str, value: &str) {
    let number = || value.parse::<f64>().ok();
    let length = || (!value.is_empty()).then(|| Length::parse(value).expect(value));
    match column {
        "set_a" => run.set_a = number(),
        "set_en_pct" => run.set_en_pct = number(),
        "ac_hz" => run.ac_hz = number(),
        "process" => {
            run.process = Some(match value {
                "dc" => Process::Dc,
                "dcep" => Process::Dcep,
                "ac" => Process::Ac,
                _ => panic!("{value}"),
            });
        }
        "start_method" => {
            run.start_method = Some(match value {
                "hf" => StartMethod::Hf,
                "lift" => StartMethod::Lift,
                "scratch" => StartMethod::Scratch,
                _ => panic!("{value}"),
            });
        }
        "thickness" => run.thickness = length(),
        "stickout" => run.stickout = length(),
        "arc_gap" => run.arc_gap = length(),
        "tip_after" => run.tip_after = Some(value.to_owned()),
        "gas" | "flow" | "cup" | "material" => {
            run.other.insert(column.to_owned(), value.to_owned());
        }
        _ => panic!("{column}"),
    }
}

/// What is told of a sheet, in one line a finding.
fn told(findings: &[FitFinding]) -> Vec<String> {
    findings
        .iter()
        .map(|finding| {
            let remark = finding.remark();
            format!(
                "{} {}: {}; {}; {}",
                finding.level().word(),
                finding.about(),
                remark.what,
                remark.why,
                remark.to_try
            )
        })
        .collect()
}

/// One sheet and what is said of it.
struct Sheet {
    changes: &'static str,
    /// Level and subject of the worst finding; `None`: nothing is said.
    says: Option<(Level, &'static str)>,
    /// Words that must be in that finding.
    words: &'static [&'static str],
    source: &'static str,
}

const PRACTICE: &str = "common practice, no source";
const CURRENT: &str = "manual OM-880, p. 20, Table 6-2";
const TIP: &str = "gas supplier's guide, p. 24 (170 A stick and TIG machine manual)";
const CUPS: &str = "manual 3617104, p. 7";
const WORK: &str = "Welder's Handbook, p. 41";

macro_rules! sheets {
    ($($changes:literal => $level:ident $about:literal [$($word:literal),*] $source:expr;)*) => {
        [$(Sheet { changes: $changes, says: says(Some(Level::$level), $about), words: &[$($word),*], source: $source }),*]
    };
}

const fn says(level: Option<Level>, about: &'static str) -> Option<(Level, &'static str)> {
    match level {
        Some(level) => Some((level, about)),
        None => None,
    }
}

/// Sheets of which a foreman says nothing.
const SOUND: &[(&str, &str)] = &[
    ("", PRACTICE),
    ("set_a=40; taper_deg=30", PRACTICE),
    ("set_a=120; taper_deg=32", PRACTICE),
    ("set_a=145; taper_deg=35", PRACTICE),
    ("set_a=20; taper_deg=20", PRACTICE),
    ("set_a=170; taper_deg=45", PRACTICE),
    ("set_a=185; taper_deg=50", PRACTICE),
    ("set_a=170; taper_deg=60", PRACTICE),
    (
        "set_a=230; taper_deg=60; tip=flat; tip_flat=0.8 mm",
        CURRENT,
    ),
    ("set_a=15; diameter=1.0 mm; taper_deg=20", TIP),
    ("set_a=10; diameter=1.6 mm; taper_deg=25", TIP),
    ("set_a=50; diameter=1.6 mm", TIP),
    ("set_a=300; diameter=3.2 mm; taper_deg=60", CURRENT),
    (
        "class=WTh20; process=dc; set_a=80; wheel=",
        "AWS Safety and Health Fact Sheet 27",
    ),
    (
        "process=ac; set_en_pct=70; set_a=120; tip=flat; tip_flat=0.6 mm",
        CURRENT,
    ),
    (
        "process=ac; set_en_pct=68; set_a=240; tip=flat; tip_flat=0.6 mm",
        CURRENT,
    ),
    (
        "process=ac; set_en_pct=70; set_a=70; tip=flat; tip_flat=0.6 mm; material=aluminium; thickness=1.6 mm",
        WORK,
    ),
    (
        "process=ac; set_en_pct=70; set_a=120; diameter=3.2 mm; tip=rounded; taper_deg=",
        CUPS,
    ),
    (
        "class=WZr8; process=ac; set_en_pct=70; set_a=150; tip=rounded; taper_deg=",
        CURRENT,
    ),
    (
        "class=WP; process=ac; set_en_pct=65; ac_hz=60; set_a=110; tip=balled; taper_deg=; set_en_pct=60",
        CURRENT,
    ),
    (
        "gas=argon; flow=8 l/min; cup=7; stickout=6 mm; arc_gap=2 mm; material=304 stainless; thickness=1.5 mm",
        CUPS,
    ),
    (
        "gas=argon; flow=15 cfh; cup=6; material=mild steel; thickness=2 mm",
        CUPS,
    ),
    (
        "process=dcep; diameter=3.2 mm; set_a=30; material=aluminium; thickness=0.8 mm; tip=balled; taper_deg=",
        CURRENT,
    ),
    ("tip_after=clean", PRACTICE),
];

#[rustfmt::skip]
const SHEETS: &[Sheet] = &sheets![
    // Current by class, diameter, polarity and balance.
    "set_a=260; taper_deg=60" => Change "current" ["260 A is over the 135–235 A", "3.2 mm electrode"] CURRENT;
    "set_a=245; taper_deg=60" => Look "current" ["over the 135–235 A", "3.2 mm"] "the tables disagree: OM-880 ends at 235 A, manual 1383499 at 250 A";
    "set_a=8; taper_deg=20" => Look "current" ["under the 12 A", "1.6 mm"] TIP;
    "set_a=80; diameter=4.0 mm" => Look "current" ["under the 190 A", "3.2 mm"] "manual 595261, p. 49 (the lowest of all)";
    "set_a=100; diameter=2.0 mm" => Note "current" ["no table here lists"] CURRENT;
    "process=ac; set_en_pct=35; set_a=240; tip=flat; tip_flat=0.6 mm" => Change "current" ["240 A is over", "35 % electrode negative", "68–70 %"] "TWI, technical FAQ on power sources; manual of a 275 A machine, p. 91: positive heats the tungsten";
    "process=ac; set_en_pct=35; set_a=110; tip=flat; tip_flat=0.6 mm" => Change "balance" ["cleaning end", "68–70 %"] "manual of a 275 A machine, p. 91";
    "process=ac; set_en_pct=50; set_a=240; tip=flat; tip_flat=0.6 mm" => Change "current" ["over the 100–180 A", "68–70 %"] CURRENT;
    "process=ac; set_en_pct=50; set_a=150; tip=flat; tip_flat=0.6 mm" => Look "balance" ["cleaning end"] "manual of a 275 A machine, p. 91: at 50 % the tip balls";
    "process=ac; set_en_pct=90; set_a=120; tip=flat; tip_flat=0.6 mm" => Note "balance" ["cleans little"] PRACTICE;
    "process=ac; set_a=120; tip=flat; tip_flat=0.6 mm" => Note "balance" ["set_en_pct is empty"] "docs/job.md";
    "process=ac; set_en_pct=70; set_a=40; tip=flat; tip_flat=0.6 mm" => Look "current" ["under the 60 A", "1.6 mm"] WORK;
    "process=ac; set_en_pct=70; set_a=300; tip=flat; tip_flat=0.6 mm" => Change "current" ["over the 130–250 A", "3.2 mm"] CURRENT;
    "class=WP; process=ac; set_en_pct=70; set_a=200; tip=rounded; taper_deg=" => Change "current" ["over the 100–160 A", "pure tungsten"] CURRENT;
    "class=WTh20; process=ac; set_en_pct=70; set_a=540; diameter=4.8 mm; tip=rounded; taper_deg=" => Change "current" ["over the 400–500 A"] CURRENT;
    "set_a=" => Note "sheet" ["set_a is empty"] "docs/job.md";
    // Polarity and work.
    "process=dcep; set_a=100; material=mild steel" => Change "polarity" ["was it meant?", "swap the polarity: DC electrode negative", "most of the heat"] "NAVEDTRA 14315, fig. 6-43; OM-880, Table 6-2";
    "process=dcep; set_a=100" => Change "polarity" ["was it meant?", "DC electrode negative"] CURRENT;
    "process=dcep; set_a=20" => Look "polarity" ["was it meant?", "DC electrode negative"] PRACTICE;
    "process=dcep; set_a=100; material=aluminium; tip=flat; tip_flat=0.6 mm" => Change "polarity" ["more than this electrode carries", "AC at 68–70 %"] CURRENT;
    "process=dc; set_a=100; material=5052 aluminium" => Change "polarity" ["aluminium on DC electrode negative", "AC at 68–70 %"] PRACTICE;
    "process=dc; set_a=100; material=aluminium; gas=helium" => Note "polarity" ["in helium"] PRACTICE;
    "process=ac; set_en_pct=70; set_a=100; material=304 stainless; tip=flat; tip_flat=0.6 mm" => Look "polarity" ["AC on stainless steel", "DC electrode negative"] PRACTICE;
    "set_en_pct=70" => Look "polarity" ["in a DC row"] "docs/job.md";
    "set_a=140; material=304 stainless; thickness=1 mm" => Look "work" ["140 A on 1 mm of stainless steel", "31–44 A"] WORK;
    "set_a=20; taper_deg=20; material=mild steel; thickness=6 mm" => Note "work" ["no pool"] WORK;
    // Taper, flat and current together.
    "set_a=230; taper_deg=30" => Change "taper" ["30° without a flat", "tungsten goes into the weld", "60° with a flat"] PRACTICE;
    "set_a=188; taper_deg=20" => Change "taper" ["20° without a flat", "thin end cannot carry"] PRACTICE;
    "set_a=170; taper_deg=32" => Look "taper" ["good to about 150 A", "45°"] PRACTICE;
    "set_a=230; taper_deg=45" => Look "taper" ["good to about 186 A", "with a flat"] PRACTICE;
    "set_a=110; taper_deg=20" => Look "taper" ["good to about 90 A", "30° point"] TIP;
    "set_a=150; diameter=1.6 mm" => Change "taper" ["30° without a flat", "60°"] PRACTICE;
    "set_a=12; taper_deg=60" => Look "taper" ["blunt 60° taper is to start at 12 A", "20° point"] PRACTICE;
    "set_a=25; taper_deg=45; diameter=3.2 mm" => Look "taper" ["too slowly", "20° point"] PRACTICE;
    "taper_deg=75" => Note "taper" ["outside the 20–60°"] PRACTICE;
    "taper_deg=15" => Note "taper" ["may be half the angle"] PRACTICE;
    "process=ac; set_en_pct=70; set_a=120; taper_deg=20" => Look "taper" ["20° needle on AC", "with a flat"] "OM-880, p. 20: 1.5 × the diameter on AC";
    "process=ac; set_en_pct=70; set_a=120" => Note "tip" ["sharp point on AC", "flat"] PRACTICE;
    "class=WP; process=ac; set_en_pct=60; set_a=110" => Look "tip" ["sharp point on AC", "rounded end"] PRACTICE;
    "tip=balled; taper_deg=" => Change "tip" ["balled tip on DC", "30° point"] PRACTICE;
    "tip=rounded; taper_deg=" => Change "tip" ["rounded tip on DC"] PRACTICE;
    "process=ac; set_en_pct=70; set_a=120; tip=balled; taper_deg=" => Look "tip" ["inverter", "40° with a flat"] PRACTICE;
    "tip=flat; tip_flat=1.5 mm" => Look "tip" ["over half of the diameter", "flat of 0.7"] TIP;
    // Class, marks, start method.
    "class=EWTh-2" => Look "thorium" ["radioactive", "never sweep dry", "WLa20"] "AWS Safety and Health Fact Sheet 27";
    "class=WTh20; process=ac; set_en_pct=70; set_a=120; tip=flat; tip_flat=0.6 mm" => Look "class" ["WTh20 (EWTh-2) on AC", "lanthanum carries more"] PRACTICE;
    "class=WZr8" => Change "class" ["zirconium is for AC", "WLa20"] CURRENT;
    "class=WP; set_a=150" => Look "class" ["emits poorly", "WLa20"] PRACTICE;
    "class=EWG" => Note "class" ["leaves the oxide to its maker"] "ASME SFA-5.12, 3.3";
    "marks=crosswise" => Look "marks" ["around the electrode", "lengthwise marks"] TIP;
    "wheel=bench wheel, 80 grit" => Note "marks" ["coarse wheel", "better than any around"] PRACTICE;
    "start_method=scratch" => Look "start method" ["picks up metal", "high-frequency start"] PRACTICE;
    "start_method=lift; process=ac; set_en_pct=70; set_a=120; tip=flat; tip_flat=0.6 mm" => Look "start method" ["lift start on AC", "high-frequency"] PRACTICE;
    "class=WP; set_a=150; start_method=lift" => Look "class" ["emits poorly"] PRACTICE;
    // Gas, cup, stick-out, gap.
    "gas=Ar/CO2 82/18" => Change "gas" ["burns the tungsten at once", "pure argon"] PRACTICE;
    "gas=argon + 2 % O2" => Change "gas" ["carbon dioxide or oxygen"] PRACTICE;
    "gas=argon + 2 % H2; material=mild steel" => Look "gas" ["porous", "pure argon"] PRACTICE;
    "gas=Ar 70 / He 30; set_a=210; taper_deg=60" => Look "gas" ["must be reduced", "3.2 mm"] "manual IM528-B, p. 41, note 1";
    "gas=argon; flow=3 l/min; cup=7" => Look "flow" ["3 l/min", "tip oxidises"] CUPS;
    "gas=argon; flow=25 l/min; cup=7" => Look "flow" ["draws in air"] CUPS;
    "gas=helium; flow=6 l/min; cup=7; set_a=120" => Look "flow" ["with this helium"] PRACTICE;
    "flow=8" => Note "sheet" ["has no unit", "l/min or cfh"] "docs/job.md";
    "cup=4" => Look "cup" ["No. 4 cup", "No. 6–8"] CUPS;
    "cup=3/8 in; diameter=3.2 mm; set_a=120; taper_deg=45" => Look "cup" ["No. 6 cup", "No. 7–10"] CUPS;
    "stickout=10 mm" => Look "stick-out" ["4.2 × its diameter", "stick-out of 7.2 mm", "only out of draughts"] TIP;
    "stickout=10 mm; cup=7 gas lens" => Note "stick-out" ["with a gas lens"] TIP;
    "diameter=1/16 in; set_a=60; stickout=12 mm" => Change "stick-out" ["7.6 × its diameter", "stick-out of 4.7 mm"] TIP;
    "stickout=16 mm; cup=7 gas lens" => Change "stick-out" ["6.7 × its diameter", "stick-out of 7.2 mm"] TIP;
    "arc_gap=5 mm" => Look "arc gap" ["up to 3 mm", "gap of 2.4 mm"] PRACTICE;
    "arc_gap=0.2 mm" => Look "arc gap" ["touches at the slightest move"] PRACTICE;
    // The tip as it was seen.
    "tip_after=blue; set_a=120" => Look "tip after" ["12 s is usual", "draught"] PRACTICE;
    "tip_after=touched the pool" => Change "tip after" ["not of this grind", "grind it anew"] PRACTICE;
    "tip_after=a small ball" => Look "tip after" ["too hot for its shape"] PRACTICE;
    "class=; marks=" => Note "sheet" ["not written down: class, marks"] "docs/job.md";
];

/// The worst finding, with thorium's caution set aside where it is not what the row is about.
#[test]
fn what_a_foreman_says_of_seventy_sheets() {
    assert!(SHEETS.len() >= 60, "{}", SHEETS.len());
    let mut wrong = Vec::new();
    for row in SHEETS {
        assert!(!row.source.is_empty());
        let findings = fit(&sheet(row.changes));
        let lines = told(&findings);
        let (level, about) = row.says.expect("something is said");
        let worst = findings.iter().map(FitFinding::level).min();
        let found = findings.iter().zip(&lines).any(|(f, line)| {
            f.level() == level && f.about() == about && row.words.iter().all(|w| line.contains(w))
        });
        if worst != Some(level) || !found {
            wrong.push(format!(
                "{} => {level:?} {about} {:?}\n    {}",
                row.changes,
                row.words,
                lines.join("\n    ")
            ));
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {}:\n{}",
        wrong.len(),
        SHEETS.len(),
        wrong.join("\n")
    );
}

#[test]
fn a_foreman_says_nothing_of_a_sound_sheet() {
    let mut wrong = Vec::new();
    for (changes, _) in SOUND {
        let findings = fit(&sheet(changes));
        let lines = told(&findings);
        let thorium_alone =
            findings.iter().all(|f| f.about() == "thorium") && changes.contains("WTh");
        if !lines.is_empty() && !thorium_alone {
            wrong.push(format!("{changes}\n    {}", lines.join("\n    ")));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
