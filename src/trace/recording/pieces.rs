//! Pieces of the longest cells, so that short rests are seen in long recordings too.

use crate::error::Result;
use crate::recording::source::{RawCell, Source, short_cell, survey_ranges};

/// Longer cells, s, are looked at in pieces …
const LONG_CELL_S: f64 = 0.1;
/// … of the length that cells have by themselves, about this many in all.
const PIECES: u64 = 1 << 15;

/// The cells, some of the longest in pieces: in long recordings every cell is longer than a rest between two arcs, and holds a part of one.
pub(crate) fn with_rests(cells: Vec<RawCell>, source: &mut dyn Source) -> Result<Vec<RawCell>> {
    let rate_hz = source.rate_hz();
    let piece = short_cell(rate_hz);
    let long = |cell: &RawCell| {
        f64::from(cell.frames) > LONG_CELL_S * rate_hz && u64::from(cell.frames) > 2 * piece
    };
    let pieces: u64 = cells
        .iter()
        .filter(|c| long(c))
        .map(|c| u64::from(c.frames) / piece)
        .sum();
    let every = pieces.div_ceil(PIECES).max(1) as usize;
    let mut found = Vec::with_capacity(cells.len());
    for (k, cell) in cells.into_iter().enumerate() {
        if !k.is_multiple_of(every) || !long(&cell) {
            found.push(cell);
            continue;
        }
        let end = cell.first + u64::from(cell.frames);
        let ranges = (cell.first..end).step_by(piece as usize);
        found.extend(survey_ranges(
            source,
            ranges.map(|at| at..end.min(at + piece)),
        )?);
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::recording::idle::{CellSample, Looks, idle};
    use crate::recording::source::{CURRENT, Memory};

    /// At 2 kHz, 40 arcs of 1.25 s with rests of 0.25 s between them, in cells of 1.024 s: each holds a part of an arc.
    #[test]
    fn rests_shorter_than_a_cell_are_found() {
        let turn = |k: usize| k % 3000;
        let trace = |high: f64| -> Vec<f64> {
            let arc = move |k: usize| if turn(k) < 500 { 0.0 } else { high };
            (0..120_000).map(arc).collect()
        };
        let mut source = Memory::new(2000.0, trace(80.0), trace(12.0));
        let cells = |frames: usize| (0..120_000).step_by(frames).map(move |at| at as u64);
        let ranges = cells(2048).map(|at| at..(at + 2048).min(120_000));
        let long = survey_ranges(&mut source, ranges).unwrap();
        let rests = |cells: &[RawCell]| {
            let place = |c: &RawCell| CellSample {
                first: c.first,
                frames: c.frames,
                stat: c.stats[CURRENT],
            };
            let places: Vec<CellSample> = cells.iter().map(place).collect();
            let looks = Looks {
                farthest: 5.0,
                still: 1.0,
            };
            let idle = idle(&places, &looks);
            let frames = idle
                .iter()
                .map(|&k| cells[k].frames as usize)
                .sum::<usize>();
            assert!(idle.iter().all(|&k| turn(cells[k].first as usize) < 500));
            frames
        };
        assert_eq!(rests(&long), 0);
        let pieces = with_rests(long, &mut source).unwrap();
        let ends = |c: &RawCell| c.first + u64::from(c.frames);
        assert!(pieces.windows(2).all(|w| ends(&w[0]) == w[1].first));
        // Pieces of 64 frames: of the 500 of a rest at least 372 lie in whole ones.
        assert!(rests(&pieces) >= 40 * 372);
    }
}
