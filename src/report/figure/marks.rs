//! Marks that distinguish groups without colour.

use plotters::element::{Drawable, PointCollection};
use plotters::prelude::*;
use plotters_backend::{BackendCoord, DrawingBackend, DrawingErrorKind};

use crate::figure::palette::{PREPS, Theme};

/// Colour of group number `group`.
pub(super) fn colour(group: usize) -> Theme {
    PREPS[group % PREPS.len()]
}

/// A mark at a point.
pub(super) struct Mark {
    at: (f64, f64),
    group: usize,
    size: i32,
    style: ShapeStyle,
}

/// The mark of group number `group`, `size` px from centre to edge.
pub(super) fn mark(at: (f64, f64), group: usize, size: i32, style: ShapeStyle) -> Mark {
    Mark {
        at,
        group,
        size,
        style,
    }
}

impl Mark {
    /// Corners around the centre, px; empty for the circle.
    fn corners(&self) -> Vec<BackendCoord> {
        let (s, t) = (self.size, self.size / 3);
        match self.group % 6 {
            0 => vec![],
            1 => vec![(0, -s), (s, s), (-s, s)],
            2 => vec![(-s, -s), (s, -s), (s, s), (-s, s)],
            3 => vec![(0, -s - 1), (s + 1, 0), (0, s + 1), (-s - 1, 0)],
            4 => vec![(0, s), (s, -s), (-s, -s)],
            _ => {
                let quarter = [(t, -s), (t, -t), (s, -t)];
                let turned = |(x, y): (i32, i32)| (-y, x);
                let mut corners = quarter.to_vec();
                for _ in 0..3 {
                    let last: Vec<_> = corners[corners.len() - 3..].to_vec();
                    corners.extend(last.into_iter().map(turned));
                }
                corners
            }
        }
    }
}

impl<'a> PointCollection<'a, (f64, f64)> for &'a Mark {
    type Point = &'a (f64, f64);
    type IntoIter = std::iter::Once<&'a (f64, f64)>;

    fn point_iter(self) -> Self::IntoIter {
        std::iter::once(&self.at)
    }
}

impl<DB: DrawingBackend> Drawable<DB> for Mark {
    fn draw<I: Iterator<Item = BackendCoord>>(
        &self,
        mut middle: I,
        backend: &mut DB,
        _: (u32, u32),
    ) -> Result<(), DrawingErrorKind<DB::ErrorType>> {
        let Some((x, y)) = middle.next() else {
            return Ok(());
        };
        let mut corners: Vec<_> = self
            .corners()
            .iter()
            .map(|(dx, dy)| (x + dx, y + dy))
            .collect();
        match corners.first().copied() {
            None => backend.draw_circle((x, y), self.size as u32, &self.style, self.style.filled),
            Some(_) if self.style.filled => backend.fill_polygon(corners, &self.style),
            Some(first) => {
                corners.push(first);
                backend.draw_path(corners, &self.style)
            }
        }
    }
}
