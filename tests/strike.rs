//! A session at the bench: starts that come in by and by, marks, a kill in the middle; and what is left of it.

#[path = "strike/terminal.rs"]
mod terminal;

use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use terminal::TmuxTerminal;
use tipstrike::demo::{Chance, LoggerModel, Method, Scenario, Strike, Try, simulate};
use tipstrike::study::plan::{PlannedRun, run_order, run_sheet};

const RATE: f64 = 5_000.0;
/// Full scales, A and V.
const SCALES: [f64; 2] = [200.0, 120.0];
const RULES: &str = "[job]\ntitle = \"Lids\"\n\n[logger]\nmains_hz = 60\ncurrent = { channel = 1, amps_at_full_scale = 200 }\n\
voltage = { channel = 2, volts_at_full_scale = 120 }\n\n[prep.A]\ntaper_deg = 30\ntip = \"point\"\n\n[prep.B]\ntaper_deg = 60\n";

/// What is struck, in order.
#[derive(Debug, Clone, PartialEq)]
struct Struck {
    prep: String,
    tip: String,
    coupon: String,
    fumbled: bool,
    /// The tip was ground anew before it, though the plan did not ask for that.
    reground: bool,
}

/// 24 planned starts, two of them fumbled and struck again, one tip ground anew in the middle of its row.
fn planned() -> (Vec<PlannedRun>, Vec<Struck>) {
    let names = |names: [&str; 2]| names.map(str::to_owned);
    let plan = run_order(&names(["A", "B"]), &names(["L1", "L2"]), 12, 4, 1, 3).unwrap();
    assert_eq!(plan.iter().map(|run| run.starts).sum::<u64>(), 24);
    let mut struck = Vec::new();
    for (row, run) in plan.iter().enumerate() {
        for start in 0..run.starts {
            let reground = row == 2 && start >= 2;
            let fumbled = [(1, 1), (4, 3)].contains(&(row, start));
            let one = Struck {
                prep: run.prep.clone(),
                tip: run.tip_id.clone() + if reground { "-2" } else { "" },
                coupon: run.coupon.clone(),
                fumbled: false,
                reground: reground && start == 2,
            };
            if fumbled {
                struck.push(Struck {
                    fumbled,
                    ..one.clone()
                });
            }
            struck.push(one);
        }
    }
    (plan, struck)
}

/// A recording in pieces: the head of 16-bit stereo of a length that nobody knows yet, then the samples of each start; and where
/// the part of each start begins, s.
fn recorded(struck: &[Struck]) -> (Vec<Vec<u8>>, Vec<f64>) {
    let mut chance = Chance::new(21, 1);
    let strikes = struck.iter().map(|start| {
        let (delay_s, failed) = match start.prep.as_str() {
            "A" => (0.02, false),
            _ => (0.09, chance.happens(0.6)),
        };
        let failed = Try {
            lasts_s: if failed { 0.012 } else { 0.008 },
            pause_s: 0.06,
        };
        Strike {
            rest_s: 0.8,
            method: Method::Hf {
                delay_s: delay_s * chance.between(0.5, 1.5),
            },
            tries: vec![failed; usize::from(failed.lasts_s > 0.01)],
            arc_s: 1.6,
            ..Strike::default()
        }
    });
    let made = simulate(&Scenario {
        rate_hz: RATE,
        strikes: strikes.collect(),
        logger: LoggerModel::decent(SCALES[0], SCALES[1], 0.04),
        ..Scenario::default()
    });
    let ends = made.truth.iter().map(|start| start.t_out_s.unwrap() + 0.3);
    let mut pieces = vec![head()];
    let mut begins = vec![0.0];
    for end in ends {
        let from = (begins[begins.len() - 1] * RATE) as usize;
        let to = ((end * RATE) as usize).min(made.amps.len());
        let sample = |x: f64, full: f64| ((x / full * 32_768.0).round() as i16).to_le_bytes();
        let frames = (from..to).flat_map(|k| {
            let [amps, volts] = [(made.amps[k], SCALES[0]), (made.volts[k], SCALES[1])];
            [sample(amps.0, amps.1), sample(volts.0, volts.1)].concat()
        });
        pieces.push(frames.collect());
        begins.push(to as f64 / RATE);
    }
    (pieces, begins)
}

fn head() -> Vec<u8> {
    let mut head = Vec::from(*b"RIFF\xff\xff\xff\xffWAVEfmt \x10\0\0\0\x01\0\x02\0");
    head.extend((RATE as u32).to_le_bytes());
    head.extend((4 * RATE as u32).to_le_bytes());
    head.extend(b"\x04\0\x10\0data\xff\xff\xff\xff");
    head
}

/// A job folder with a plan.
fn bench(plan: &[PlannedRun]) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("lids");
    std::fs::create_dir(&job).unwrap();
    std::fs::write(job.join("job.toml"), RULES).unwrap();
    std::fs::write(job.join("runs.csv"), run_sheet(plan)).unwrap();
    (folder, job)
}

fn tipstrike(job: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tipstrike"));
    command.current_dir(job.parent().unwrap());
    command.env("XDG_CACHE_HOME", job.parent().unwrap().join("kept"));
    command
}

/// A session as lines.
struct Session {
    child: Child,
    keys: ChildStdin,
    said: Receiver<String>,
    /// All that was said so far.
    all: Vec<String>,
}

impl Session {
    fn begin(job: &Path) -> Session {
        let mut child = tipstrike(job)
            .args(["strike", "lids", "--follow", "lids/session.wav"])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let (sender, said) = channel();
        let out = child.stdout.take().unwrap();
        std::thread::spawn(move || {
            for line in BufReader::new(out).lines().map_while(Result::ok) {
                let _ = sender.send(line);
            }
        });
        Session {
            keys: child.stdin.take().unwrap(),
            child,
            said,
            all: Vec::new(),
        }
    }

    fn press(&mut self, key: &str) {
        writeln!(self.keys, "{key}").unwrap();
    }

    /// Waits until something is said.
    fn hears(&mut self, what: &str) {
        loop {
            let Ok(line) = self.said.recv_timeout(Duration::from_secs(120)) else {
                let mut error = String::new();
                let _ = self.child.kill();
                let _ = self.child.stderr.take().unwrap().read_to_string(&mut error);
                panic!("no \"{what}\": {error}\n{}", self.all.join("\n"));
            };
            let found = line.contains(what);
            self.all.push(line);
            if found {
                return;
            }
        }
    }

    fn kill(mut self) {
        // SIGKILL on Unix: nothing of the program runs any more.
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

fn answer(job: &Path) -> serde_json::Value {
    let output = tipstrike(job)
        .args(["compare", "lids", "--json", "-"])
        .output()
        .unwrap();
    let error = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{error}");
    serde_json::from_slice(&output.stdout).unwrap()
}

/// The sheet as the truth has it: a row for each start, each with its own part of the recording.
fn true_sheet(struck: &[Struck], begins: &[f64]) -> String {
    let mut sheet = String::from("file,prep,tip_id,coupon,exclude,from_s,to_s\n");
    for (start, part) in struck.iter().zip(begins.windows(2)) {
        let Struck {
            prep, tip, coupon, ..
        } = start;
        let exclude = if start.fumbled { "fumbled" } else { "" };
        let (from, to) = (part[0], part[1]);
        sheet += &format!("session.wav,{prep},{tip},{coupon},{exclude},{from:.4},{to:.4}\n");
    }
    sheet
}

#[test]
fn a_session_with_fumbles_a_regrind_and_a_kill_ends_in_the_job_that_the_truth_gives() {
    let (plan, struck) = planned();
    let (pieces, begins) = recorded(&struck);
    let (_folder, job) = bench(&plan);
    let mut file = std::fs::File::create(job.join("session.wav")).unwrap();
    file.write_all(&pieces[0]).unwrap();
    let mut session = Session::begin(&job);
    session.hears("NEXT");
    for (k, start) in struck.iter().enumerate() {
        if start.reground {
            session.press("r");
            session.hears("The tip is ground anew");
        }
        let away = k == 12;
        if away {
            session.kill();
            file.write_all(&pieces[k + 1]).unwrap();
            session = Session::begin(&job);
            // It was struck while nobody listened, and is heard all the same.
            session.hears("12 starts of this recording");
        } else {
            file.write_all(&pieces[k + 1]).unwrap();
        }
        session.hears(&format!("Start {} ", k + 1));
        if k == 3 {
            session.press("f");
            session.hears("set aside as fumbled");
            session.press("u");
            session.hears("counts again");
        }
        if start.fumbled {
            session.press("f");
            session.hears("set aside as fumbled");
        }
    }
    session.press("q");
    session.hears("tipstrike compare lids");
    assert!(session.child.wait().unwrap().success());

    let sheet = std::fs::read_to_string(job.join("runs.csv")).unwrap();
    let of_session = answer(&job);
    assert_eq!(of_session["set_aside"], 2, "{sheet}");
    let counted: Vec<_> = of_session["groups"]
        .as_array()
        .unwrap()
        .iter()
        .map(|group| (group["tips"].as_u64(), group["starts"].as_u64()))
        .collect();
    let reground = &struck.iter().find(|start| start.reground).unwrap().prep;
    let tips = |prep: &str| if prep == reground { Some(4) } else { Some(3) };
    assert_eq!(
        counted,
        [(tips("A"), Some(12)), (tips("B"), Some(12))],
        "{sheet}"
    );
    std::fs::write(job.join("runs.csv"), true_sheet(&struck, &begins)).unwrap();
    assert_eq!(of_session, answer(&job), "{sheet}");
}

#[test]
fn what_comes_in_on_stdin_is_kept_and_the_next_session_goes_on() {
    let (plan, struck) = planned();
    let (_folder, job) = bench(&plan);
    for (number, starts) in [(1, 3), (2, 2)] {
        let (pieces, _) = recorded(&struck[..starts]);
        let mut child = tipstrike(&job)
            .args(["strike", "lids", "--follow", "-"])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut recorder = child.stdin.take().unwrap();
        recorder.write_all(&pieces.concat()).unwrap();
        drop(recorder);
        let done = child.wait_with_output().unwrap();
        assert!(done.status.success(), "{done:?}");
        let kept = std::fs::read(job.join(format!("strike-{number}.wav"))).unwrap();
        assert_eq!(kept, pieces.concat());
    }
    let measured = tipstrike(&job)
        .args(["measure", "lids", "--jsonl", "-"])
        .output()
        .unwrap();
    assert_eq!(measured.status.code(), Some(0), "{measured:?}");
    let rows = String::from_utf8(measured.stdout).unwrap();
    let of = |row: &str| -> (String, String) {
        let row: serde_json::Value = serde_json::from_str(row).unwrap();
        let text = |name: &str| row[name].as_str().unwrap().to_owned();
        (text("recording"), text("tip_id"))
    };
    let tips: Vec<(String, String)> = rows.lines().map(of).collect();
    let expected = |k: usize| {
        let file = if k < 3 {
            "strike-1.wav"
        } else {
            "strike-2.wav"
        };
        (file.to_owned(), plan[k / 4].tip_id.clone())
    };
    assert_eq!(tips, (0..5).map(expected).collect::<Vec<_>>());
}

#[test]
fn the_full_screen_shows_starts_takes_keys_and_gives_the_terminal_back() {
    if Command::new("tmux").arg("-V").output().is_err() {
        eprintln!(
            "\n!!! THE FULL SCREEN IS NOT TESTED: there is no tmux here (apt-get install tmux).\n"
        );
        return;
    }
    let (plan, struck) = planned();
    let (pieces, _) = recorded(&struck[..3]);
    let (folder, job) = bench(&plan);
    let mut file = std::fs::File::create(job.join("session.wav")).unwrap();
    file.write_all(&pieces[..2].concat()).unwrap();
    let tool = env!("CARGO_BIN_EXE_tipstrike");
    let terminal = TmuxTerminal::open(
        folder.path(),
        &format!(
            "{tool} strike lids --follow lids/session.wav; echo left with $?; stty -a | grep -q ' echo ' && echo it echoes; sleep 60"
        ),
    );
    let screen = terminal.shows("Start 1 at");
    assert!(
        screen.contains("STRIKE NEXT") && screen.contains("██"),
        "{screen}"
    );
    assert!(screen.trim_end().ends_with("q  quit"), "{screen}");
    file.write_all(&pieces[2]).unwrap();
    terminal.shows("Start 2 at");
    terminal.run(&["send-keys", "f"]);
    terminal.shows("set aside as fumbled");
    terminal.shows("1 set aside");
    terminal.run(&["send-keys", "u"]);
    terminal.shows("counts again");
    terminal.run(&["resize-window", "-x", "120", "-y", "40"]);
    // A letter's dot is two columns wide where there is room.
    terminal.shows(&"─".repeat(90));
    file.write_all(&pieces[3]).unwrap();
    terminal.shows("Start 3 at");
    terminal.run(&["send-keys", "q"]);
    let screen = terminal.shows("left with 0");
    assert!(screen.contains("compare lids --while-striking"), "{screen}");
    terminal.shows("it echoes");
    let sheet = std::fs::read_to_string(job.join("runs.csv")).unwrap();
    let first = sheet.lines().nth(1).unwrap();
    assert!(
        first.starts_with("session.wav,") && first.contains(",3,1,"),
        "{sheet}"
    );
}
