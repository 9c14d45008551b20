//! Decimates a trace to the resolution of a figure by its extremes, in the order they came, so that no spike is lost
//! and an arc that ends does not look like one that lights.

/// Resamples columns of two extremes to exactly `count` cells by joining or repeating them; the extremes of a cell stand
/// in the order they came. `None` for cells without samples (NaN).
pub fn gather(columns: &[[f32; 2]], count: usize) -> Vec<Option<[f32; 2]>> {
    let place = |cell: usize| cell * columns.len() / count;
    (0..count)
        .map(|cell| {
            let (from, to) = (place(cell), place(cell + 1).max(place(cell) + 1));
            extremes(columns.get(from..to.min(columns.len()))?)
        })
        .collect()
}

/// The least and the greatest finite value of some columns; `None` if there is none.
pub fn ends(columns: &[[f32; 2]]) -> Option<[f32; 2]> {
    let known = columns.iter().flatten().filter(|value| value.is_finite());
    let least = known.clone().copied().reduce(f32::min)?;
    Some([least, known.copied().reduce(f32::max)?])
}

/// The least and the greatest value of some columns, in the order they came.
fn extremes(columns: &[[f32; 2]]) -> Option<[f32; 2]> {
    let known = columns
        .iter()
        .filter(|column| column[0].is_finite() && column[1].is_finite());
    let values = || known.clone().flatten().copied().enumerate();
    let (low_at, low) = values().reduce(|a, b| if b.1 < a.1 { b } else { a })?;
    let (high_at, high) = values().reduce(|a, b| if b.1 > a.1 { b } else { a })?;
    Some(match low_at <= high_at {
        true => [low, high],
        false => [high, low],
    })
}

/// Cells as polylines of (cell, value), one per unbroken stretch. Level stretches keep only their end points.
pub fn lines(cells: &[Option<[f32; 2]>]) -> Vec<Vec<(usize, f32)>> {
    let mut lines = vec![Vec::new()];
    for (x, cell) in cells.iter().enumerate() {
        let line = lines
            .last_mut()
            .expect("there is always a line being drawn");
        match cell {
            Some([first, last]) if first == last => line.push((x, *first)),
            Some(both) => line.extend(both.map(|y| (x, y))),
            None if line.is_empty() => {}
            None => lines.push(Vec::new()),
        }
    }
    lines.retain(|line| !line.is_empty());
    lines.iter_mut().for_each(thin_level);
    lines
}

fn thin_level(line: &mut Vec<(usize, f32)>) {
    let mut kept: Vec<(usize, f32)> = Vec::with_capacity(line.len());
    for point in line.drain(..) {
        if let [.., a, b] = kept[..]
            && a.1 == b.1
            && b.1 == point.1
        {
            kept.pop();
        }
        kept.push(point);
    }
    *line = kept;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_spike_is_lost_however_few_cells_there_are() {
        let mut columns = vec![[0.0, 1.0]; 1000];
        columns[613] = [-7.0, 9.0];
        for count in [1, 3, 10, 999, 1000] {
            let cells = gather(&columns, count);
            assert_eq!(cells.len(), count);
            assert!(cells.contains(&Some([-7.0, 9.0])), "{count} cells");
        }
        assert_eq!(gather(&columns[..1], 4), [Some([0.0, 1.0]); 4]);
    }

    #[test]
    fn the_ends_of_columns_leave_out_what_is_no_number() {
        let columns = [[1.0, f32::NAN], [f32::INFINITY, -2.0], [3.0, 0.5]];
        assert_eq!(ends(&columns), Some([-2.0, 3.0]));
        assert_eq!(ends(&[[f32::NAN; 2]]), None);
    }

    #[test]
    fn extremes_of_a_cell_come_in_the_order_they_came() {
        let lit = [[0.0, 0.1], [0.0, 80.0], [80.0, 79.0]];
        let out = [[80.0, 79.0], [80.0, 0.0], [0.1, 0.0]];
        assert_eq!(gather(&lit, 1), [Some([0.0, 80.0])]);
        assert_eq!(gather(&out, 1), [Some([80.0, 0.0])]);
        assert_eq!(gather(&[], 2), [None, None]);
    }

    #[test]
    fn a_gap_breaks_the_line_and_level_stretches_keep_their_ends() {
        let level = Some([1.0, 1.0]);
        let cells = [
            level,
            level,
            level,
            None,
            Some([2.0, 5.0]),
            Some([3.0, 4.0]),
        ];
        assert_eq!(
            lines(&cells),
            [
                vec![(0, 1.0), (2, 1.0)],
                vec![(4, 2.0), (4, 5.0), (5, 3.0), (5, 4.0)]
            ]
        );
    }
}
