//! The survey of a table: its text is read once, parsed on all cores, and built in order.

use crate::error::Result;
use crate::parallel;
use crate::recording::table::build::Builder;
use crate::recording::table::findings;
use crate::recording::table::head::Head;
use crate::recording::table::rows::{Reading, Rows, TIME};
use crate::recording::table::stream::Stream;
use crate::recording::table::timing::{Timing, pace_of, scale_times};

/// Bytes of text that one core takes at a time during the survey.
const SURVEYED: usize = 1 << 16;
/// Approximate length of a cell of an even table, s.
const CELL_S: f64 = 0.02;
/// Number of chunks parsed in parallel.
const SIDE_BY_SIDE: usize = 16;

/// A chunk of text, its offset, and its rows.
#[derive(Default)]
struct Chunk {
    text: Vec<u8>,
    at: u64,
    rows: Rows,
}

/// Consecutive chunks; fewer than there is room for at the end of the text.
#[derive(Default)]
struct Chunks {
    room: [Chunk; SIDE_BY_SIDE],
    filled: usize,
}

impl Chunks {
    fn fill(&mut self, stream: &mut Stream) -> Result<()> {
        self.filled = 0;
        for chunk in &mut self.room {
            match stream.chunk(SURVEYED, &mut chunk.text)? {
                Some(place) => chunk.at = place,
                None => break,
            }
            self.filled += 1;
        }
        Ok(())
    }

    fn parse(&mut self, reading: &Reading, timing: Timing) {
        parallel::each_mut(&mut self.room[..self.filled], |chunk| {
            reading.rows(&chunk.text, &mut chunk.rows);
            scale_times(&mut chunk.rows, timing);
        });
    }

    /// Passes the rows to the builder, which is created from the first of them.
    fn build(&self, builder: &mut Option<Builder>, head: &Head, timing: Timing) -> Result<()> {
        for chunk in &self.room[..self.filled] {
            let builder = match builder {
                Some(builder) => builder,
                None => builder.insert(start(head, &chunk.rows.columns[TIME], timing)?),
            };
            builder.push(&chunk.rows, chunk.at);
        }
        Ok(())
    }
}

/// Reads the text once as a pipeline: while some chunks are parsed on all cores, the ones before go into the builder
/// in order, and the ones after are read.
pub(super) fn survey(
    head: &Head,
    stream: &mut Stream,
    reading: &Reading,
    timing: Timing,
) -> Result<Builder> {
    let mut builder = None;
    let [mut before, mut now, mut next] = [(); 3].map(|()| Chunks::default());
    now.fill(stream)?;
    while now.filled > 0 {
        let (built, (filled, ())) = parallel::both(
            || before.build(&mut builder, head, timing),
            || parallel::both(|| next.fill(stream), || now.parse(reading, timing)),
        );
        built.and(filled)?;
        if builder.as_ref().is_some_and(findings::is_torn) {
            break;
        }
        (before, now, next) = (now, next, before);
    }
    before.build(&mut builder, head, timing)?;
    let mut builder = match builder {
        Some(builder) => builder,
        None => start(head, &[], timing)?,
    };
    builder.finish(CELL_S);
    Ok(builder)
}

fn start(head: &Head, times: &[f64], timing: Timing) -> Result<Builder> {
    let pace = pace_of(&head.layout, times, timing, head.file.name())?;
    let of_day = matches!(timing, Timing::Clock(_));
    let has_times = timing.column().is_some();
    Ok(Builder::new(
        head.layout.first_line,
        pace,
        has_times,
        of_day,
    ))
}
