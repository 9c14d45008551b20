//! The header of a WAV file: RIFF and its 64-bit forms RF64 (EBU Tech 3306) and BW64 (ITU-R BS.2088).

use std::io::{Cursor, Read, Seek, SeekFrom};

use crate::error::{Error, ErrorKind, Result};
use crate::recording::finding::Finding;
use crate::recording::seen::{CutShort, Seen};
use crate::recording::source::rate_fault;

/// Encoding of a sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Coding {
    U8,
    I16,
    I24,
    I32,
    F32,
}

impl Coding {
    /// Size of a sample, bytes.
    pub fn bytes(self) -> usize {
        match self {
            Coding::U8 => 1,
            Coding::I16 => 2,
            Coding::I24 => 3,
            Coding::I32 | Coding::F32 => 4,
        }
    }
}

/// The header, checked against the length of the file.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Header {
    pub coding: Coding,
    pub channels: usize,
    pub rate_hz: u32,
    /// Significant bits of a sample.
    pub bits: u16,
    /// Offset of the first frame in the file.
    pub data_at: u64,
    /// Size of the samples according to the header, bytes; `None` if it does not say.
    pub stated: Option<u64>,
    /// Complete frames in the file.
    pub frames: u64,
    /// Findings about the length.
    pub findings: Vec<Finding>,
}

impl Header {
    /// Smallest step as a fraction of full scale; for floats that of the 24-bit significand near full scale.
    pub fn step(&self) -> f64 {
        match self.coding {
            Coding::F32 => 2.0_f64.powi(-24),
            _ => 2.0_f64.powi(1 - i32::from(self.bits)),
        }
    }

    /// Size of a frame, bytes.
    pub fn frame_bytes(&self) -> usize {
        self.coding.bytes() * self.channels
    }
}

/// Chunk size that stands for "unknown", in 64-bit containers and in files of a logger that was cut off.
const UNKNOWN: u32 = u32::MAX;
/// Maximum size of a format chunk, bytes.
const LONGEST_FORMAT: u64 = 40;
/// Maximum number of channels.
const MOST_CHANNELS: u16 = 8;

/// Maximum number of chunks before the samples; no logger writes more, and searching on could take for ever.
const MOST_CHUNKS: usize = 1000;

/// Reads the header.
///
/// # Errors
/// Not a WAV file, or an unsupported one.
pub(crate) fn read(file: &mut (impl Read + Seek), at: &str) -> Result<Header> {
    let io = |e| Error::new(ErrorKind::DamagedWav, at, format!("cannot be read: {e}"));
    let length = file.seek(SeekFrom::End(0)).map_err(io)?;
    file.seek(SeekFrom::Start(12)).map_err(io)?;
    let mut format = Vec::new();
    let mut long_data = None;
    let mut here = 12;
    for _ in 0..MOST_CHUNKS {
        let Some((id, size)) = chunk_head(file, &mut here, length).map_err(io)? else {
            return Err(
                Error::new(ErrorKind::DamagedWav, at, "there is no data chunk")
                    .hint("The file may have been cut off: record again"),
            );
        };
        if &id == b"data" {
            let stated = if size == UNKNOWN {
                long_data
            } else {
                Some(u64::from(size))
            };
            return finish(&format, here, stated, length, file, at);
        }
        let size = u64::from(size);
        let mut body = vec![0; size.min(LONGEST_FORMAT).min(length - here) as usize];
        file.read_exact(&mut body).map_err(io)?;
        match &id {
            b"fmt " if !format.is_empty() && format != body => {
                let problem = "two format chunks contradict each other";
                return Err(Error::new(ErrorKind::WavFormat, at, problem).hint(KINDS));
            }
            b"fmt " => format = body,
            b"LIST" if body.starts_with(b"wavl") => return Err(scattered(at)),
            b"ds64" if body.len() >= 16 => {
                long_data = body[8..16].try_into().ok().map(u64::from_le_bytes)
            }
            _ => {}
        }
        here = next_chunk(file, here, size, length).map_err(io)?;
    }
    let problem = format!("the first {MOST_CHUNKS} chunks hold no samples");
    Err(Error::new(ErrorKind::DamagedWav, at, problem).hint("Record again"))
}

/// Reads id and size of the chunk at `here` and moves `here` past them; `None` at the end of the file.
fn chunk_head(
    file: &mut (impl Read + Seek),
    here: &mut u64,
    length: u64,
) -> std::io::Result<Option<([u8; 4], u32)>> {
    if *here + 8 > length {
        return Ok(None);
    }
    let mut head = [0; 8];
    file.seek(SeekFrom::Start(*here))?;
    file.read_exact(&mut head)?;
    *here += 8;
    let [a, b, c, d, size @ ..] = head;
    Ok(Some(([a, b, c, d], u32::from_le_bytes(size))))
}

/// Finds the next chunk. Chunks of odd size are padded, but not by every logger.
fn next_chunk(
    file: &mut (impl Read + Seek),
    body: u64,
    size: u64,
    length: u64,
) -> std::io::Result<u64> {
    let (tight, padded) = (
        body.saturating_add(size),
        body.saturating_add(size + size % 2),
    );
    if tight != padded && padded + 4 <= length {
        let mut id = [0; 5];
        file.seek(SeekFrom::Start(tight))?;
        let got = file.read(&mut id)?;
        if got == 5 && is_name(&id[..4]) && !is_name(&id[1..]) {
            return Ok(tight);
        }
    }
    Ok(padded)
}

/// Checks the format with hound and the length against the file.
fn finish(
    format: &[u8],
    data_at: u64,
    stated: Option<u64>,
    length: u64,
    file: &mut (impl Read + Seek),
    at: &str,
) -> Result<Header> {
    let (spec, block) = checked(format, at)?;
    let container = block / usize::from(spec.channels);
    let coding = match (spec.sample_format, container) {
        (hound::SampleFormat::Float, 4) => Coding::F32,
        (hound::SampleFormat::Int, 1) => Coding::U8,
        (hound::SampleFormat::Int, 2) => Coding::I16,
        (hound::SampleFormat::Int, 3) => Coding::I24,
        (hound::SampleFormat::Int, 4) => Coding::I32,
        _ => {
            return Err(Error::new(
                ErrorKind::WavFormat,
                at,
                format!("samples of {container} bytes are not supported"),
            )
            .hint(KINDS));
        }
    };
    let there = length - data_at;
    let bytes = match stated {
        Some(0) | None if !chunk_follows(file, data_at) => there,
        Some(bytes) => bytes.min(there),
        None => there,
    };
    let more = bytes < there && more_samples(file, data_at, bytes, length).unwrap_or(false);
    if more {
        return Err(scattered(at));
    }
    let frames = bytes / block as u64;
    if frames == 0 {
        return Err(Error::new(
            ErrorKind::DamagedWav,
            at,
            "it holds no complete frame of samples",
        )
        .hint("Record again"));
    }
    let rate_hz = spec.sample_rate;
    let findings = short(
        stated,
        there,
        bytes % block as u64,
        frames as f64 / f64::from(rate_hz),
    );
    Ok(Header {
        coding,
        channels: usize::from(spec.channels),
        rate_hz,
        bits: spec.bits_per_sample,
        data_at,
        stated,
        frames,
        findings,
    })
}

/// Part of such a file would be half a recording.
pub(crate) fn scattered(at: &str) -> Error {
    let problem = "its samples lie in several chunks";
    Error::new(ErrorKind::WavFormat, at, problem)
        .hint("Save it with one data chunk, as nearly every program does")
}

/// Whether another chunk of samples, or of their format, stands behind those of `size` bytes at `data_at`.
fn more_samples(
    file: &mut (impl Read + Seek),
    data_at: u64,
    size: u64,
    length: u64,
) -> std::io::Result<bool> {
    let mut here = next_chunk(file, data_at, size, length)?;
    for _ in 0..MOST_CHUNKS {
        let Some((id, size)) = chunk_head(file, &mut here, length)? else {
            break;
        };
        let mut kind = [0; 4];
        if &id == b"LIST" && here + 4 <= length {
            file.read_exact(&mut kind)?;
        }
        if &id == b"data" || &kind == b"wavl" {
            return Ok(true);
        }
        // Without a name it is not a chunk, and nothing after it can be read.
        if !is_name(&id) {
            break;
        }
        here = next_chunk(file, here, u64::from(size), length)?;
    }
    Ok(false)
}

/// Whether four bytes can be the name of a chunk.
fn is_name(id: &[u8]) -> bool {
    id.len() == 4 && id.iter().all(|b| (0x20..0x7f).contains(b))
}

/// Way out of all format errors: what is supported.
const KINDS: &str =
    "Save it as a WAV file of 8, 16, 24 or 32-bit integers or 32-bit floats, with 1 to 8 channels";

/// Reads the format chunk with hound, as part of a minimal file; returns it with the size of a frame in bytes.
///
/// The byte rate is redundant and wrong in files of some loggers, so hound gets a consistent one.
fn checked(format: &[u8], at: &str) -> Result<(hound::WavSpec, usize)> {
    let refuse = |kind, problem: String| Error::new(kind, at, problem).hint(KINDS);
    let unsupported = |problem| refuse(ErrorKind::WavFormat, problem);
    if format.len() < 16 {
        return Err(unsupported(
            "the format chunk is missing or too short".into(),
        ));
    }
    let short = |k: usize| u16::from_le_bytes([format[k], format[k + 1]]);
    let (tag, channels, block) = (short(0), short(2), short(12));
    if !(1..=MOST_CHANNELS).contains(&channels) {
        return Err(unsupported(format!("it has {channels} channels")));
    }
    if block == 0 || block % channels != 0 {
        return Err(unsupported(format!(
            "frames of {block} bytes do not fit {channels} channels"
        )));
    }
    let rate = u32::from_le_bytes([format[4], format[5], format[6], format[7]]);
    if rate == 0 {
        return Err(refuse(ErrorKind::SampleRate, "the sample rate is 0".into()));
    }
    if let Some(problem) = rate_fault(rate.into()) {
        return Err(refuse(ErrorKind::SampleRate, problem));
    }
    let mut clean = if tag == 0xfffe {
        format.to_vec()
    } else {
        format[..16].to_vec()
    };
    clean[8..12].copy_from_slice(&rate.wrapping_mul(u32::from(block)).to_le_bytes());
    let size = clean.len() as u32;
    let parts: [&[u8]; 7] = [
        b"RIFF",
        &(20 + size).to_le_bytes(),
        b"WAVEfmt ",
        &size.to_le_bytes(),
        &clean,
        b"data",
        &[0; 4],
    ];
    let reader = hound::WavReader::new(Cursor::new(parts.concat())).map_err(|e| {
        unsupported(match e {
            hound::Error::Unsupported => {
                format!("its encoding (format tag {tag}) is not supported")
            }
            other => format!("the format chunk cannot be used: {other}"),
        })
    })?;
    Ok((reader.spec(), usize::from(block)))
}

/// Whether a data chunk of length 0 is really empty, because another chunk follows directly.
fn chunk_follows(file: &mut (impl Read + Seek), data_at: u64) -> bool {
    let mut id = [0; 4];
    let read = file
        .seek(SeekFrom::Start(data_at))
        .and_then(|_| file.read_exact(&mut id));
    read.is_ok()
        && [
            b"LIST", b"fact", b"cue ", b"bext", b"id3 ", b"ID3 ", b"smpl", b"JUNK",
        ]
        .contains(&&id)
}

fn short(stated: Option<u64>, there: u64, left_over: u64, read_s: f64) -> Vec<Finding> {
    let how = match stated {
        Some(0) | None => CutShort::LengthUnknown { read_s },
        Some(promised) if promised > there => CutShort::Shorter {
            promised,
            there,
            read_s,
        },
        _ if left_over > 0 => CutShort::PartOfFrame {
            bytes: left_over,
            read_s,
        },
        _ => return Vec::new(),
    };
    vec![Finding::within(
        Seen::CutShort(how),
        vec![(read_s, f64::MAX)],
    )]
}
