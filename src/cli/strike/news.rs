//! What happens while a session runs: bytes of the recording and keys, from threads of their own.

use std::fs::File;
use std::io::{self, BufRead, BufReader, IsTerminal, Read};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread;

use crossterm::event::{self, Event, KeyCode, KeyEventKind, KeyModifiers};

use crate::cli::incoming::{Incoming, PIECE, Piece, WAIT};
use crate::error::{Error, Result};

/// Pieces of the recording that wait to be heard.
const WAITING: usize = 16;
/// Bytes that tell a WAV file from a table.
const HEAD: usize = 4;

/// A key of the session.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    /// The last start was fumbled.
    Fumbled,
    /// The tip was ground anew.
    Reground,
    /// Take the last mark back.
    Undo,
    /// End the session.
    Quit,
}

impl Key {
    fn of(letter: char) -> Option<Key> {
        Some(match letter.to_ascii_lowercase() {
            'f' => Key::Fumbled,
            'r' => Key::Reground,
            'u' => Key::Undo,
            'q' => Key::Quit,
            _ => return None,
        })
    }
}

/// Something that happened.
#[derive(Debug)]
pub enum News {
    /// The recording grew.
    Bytes(Vec<u8>),
    /// What was written of the recording so far has been read.
    CaughtUp,
    /// The recording is over; what happened to a file that was lost.
    End(Option<&'static str>),
    /// The recording cannot be read.
    Failed(Error),
    /// A key was pressed.
    Key(Key),
    /// The terminal has another size.
    Redraw,
}

/// The first bytes of what comes in on stdin.
///
/// # Errors
/// The operating system refused.
pub fn first_of_stdin() -> Result<Vec<u8>> {
    let mut first = Vec::new();
    let mut stdin = io::stdin().lock().take(HEAD as u64);
    let read = stdin.read_to_end(&mut first);
    read.map_err(|e| Error::io(Path::new("stdin"), "read", e))?;
    Ok(first)
}

/// Starts to listen to the recording and the keys; tells whether there are keys.
pub fn listen(follow: &Path, full: bool) -> (Receiver<News>, bool) {
    let (sender, news) = sync_channel(WAITING);
    let (input, to) = (follow.to_path_buf(), sender.clone());
    thread::spawn(move || read(&input, &to));
    if full {
        thread::spawn(move || press(&sender));
        return (news, true);
    }
    let lines = lines_of_keys(follow == Path::new("-"));
    let keys = lines.is_some();
    if let Some(lines) = lines {
        thread::spawn(move || type_in(lines, &sender));
    }
    (news, keys)
}

/// Reads the recording; waits for a file that is not there yet.
fn read(input: &PathBuf, to: &SyncSender<News>) {
    let waits = input != Path::new("-") && !input.exists();
    if waits && to.send(News::CaughtUp).is_err() {
        return;
    }
    while waits && !input.exists() {
        thread::sleep(WAIT);
    }
    if let Err(error) = read_on(input, to, waits) {
        let _ = to.send(News::Failed(error));
    }
}

/// Reads until the recording is over, or nobody listens.
fn read_on(input: &Path, to: &SyncSender<News>, mut caught_up: bool) -> Result<()> {
    let mut incoming = Incoming::open(input, true)?;
    let mut piece = vec![0; PIECE];
    loop {
        let news = match incoming.next(&mut piece)? {
            Piece::Bytes(count) => News::Bytes(piece[..count].to_vec()),
            Piece::Nothing if caught_up => {
                thread::sleep(WAIT);
                continue;
            }
            Piece::Nothing => {
                caught_up = true;
                News::CaughtUp
            }
            Piece::End => News::End(None),
            Piece::Lost(lost) => News::End(Some(lost)),
        };
        let over = matches!(news, News::End(_));
        if to.send(news).is_err() || over {
            return Ok(());
        }
    }
}

/// Where keys are typed as lines: stdin, or the terminal where stdin is the recording.
fn lines_of_keys(stdin_is_taken: bool) -> Option<Box<dyn BufRead + Send>> {
    match stdin_is_taken {
        false => Some(Box::new(BufReader::new(io::stdin()))),
        true if io::stderr().is_terminal() => {
            let terminal = File::open("/dev/tty").ok()?;
            Some(Box::new(BufReader::new(terminal)))
        }
        true => None,
    }
}

fn type_in(lines: Box<dyn BufRead + Send>, to: &SyncSender<News>) {
    for line in lines.lines().map_while(io::Result::ok) {
        let key = line.trim().chars().next().and_then(Key::of);
        if key.is_some_and(|key| to.send(News::Key(key)).is_err()) {
            return;
        }
    }
}

fn press(to: &SyncSender<News>) {
    while let Ok(event) = event::read() {
        let news = match event {
            Event::Key(key) if key.kind == KeyEventKind::Release => continue,
            Event::Key(key) => {
                let ctrl = key.modifiers.contains(KeyModifiers::CONTROL);
                match key.code {
                    KeyCode::Char('c') if ctrl => News::Key(Key::Quit),
                    KeyCode::Char(letter) if !ctrl => match Key::of(letter) {
                        Some(key) => News::Key(key),
                        None => continue,
                    },
                    _ => continue,
                }
            }
            Event::Resize(..) => News::Redraw,
            _ => continue,
        };
        if to.send(news).is_err() {
            return;
        }
    }
}
