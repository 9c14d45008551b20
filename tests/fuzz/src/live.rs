//! Bytes that come in, in pieces of any size, against the same bytes in one piece.

use std::path::Path;

use tipstrike::Error;
use tipstrike::job::{Job, Logger, Run};
use tipstrike::measuring::live::Follow;
use tipstrike::score::StartRow;

use super::{rows, workbench};

const WIRINGS: [&str; 2] = [
    "{}",
    r#"{"current":{"channel":1,"amps_at_full_scale":300},"voltage":{"channel":2,"volts_at_full_scale":120}}"#,
];
/// The last bytes say how large the pieces are.
const SIZES: usize = 4;

/// The same starts, or the same refusal, however the bytes come.
pub fn live(bytes: &[u8]) {
    let Some(at) = bytes.len().checked_sub(SIZES) else {
        return;
    };
    let (bytes, sizes) = bytes.split_at(at);
    let sizes: Vec<usize> = sizes
        .iter()
        .map(|&n| 1 + usize::from(n) * usize::from(n))
        .collect();
    for wiring in WIRINGS {
        let logger: Logger = serde_json::from_str(wiring).expect("a [logger]");
        let job = Job::bare(logger, Default::default());
        let run = Run::bare(1, Path::new("fuzz.wav"));
        let (whole, refused) = followed(&job, &run, bytes, &[bytes.len().max(1)]);
        let (pieces, refused_too) = followed(&job, &run, bytes, &sizes);
        let words = |refused: &Option<Error>| refused.as_ref().map(Error::to_string);
        assert_eq!(
            words(&refused),
            words(&refused_too),
            "refused in one piece, and in pieces of {sizes:?}"
        );
        match refused {
            // Starts that were told before the fault came stay told.
            Some(error) => workbench::says_where(&error, &["fuzz.", "[logger]"]),
            None => assert_eq!(pieces, whole, "in pieces of {sizes:?}"),
        }
        rows::written_is_read(&whole);
    }
}

fn followed(
    job: &Job,
    run: &Run,
    mut bytes: &[u8],
    sizes: &[usize],
) -> (Vec<StartRow>, Option<Error>) {
    let mut rows = Vec::new();
    let mut follow = match Follow::new(job, run) {
        Ok(follow) => follow,
        Err(error) => return (rows, Some(error)),
    };
    for &size in sizes.iter().cycle() {
        let (piece, rest) = bytes.split_at(size.min(bytes.len()));
        match follow.push(piece) {
            Ok(told) => rows.extend(told),
            Err(error) => return (rows, Some(error)),
        }
        bytes = rest;
        if bytes.is_empty() {
            break;
        }
    }
    match follow.finish() {
        Ok(told) => rows.extend(told),
        Err(error) => return (rows, Some(error)),
    }
    (rows, None)
}
