//! Colour and weight in tables, where there is a terminal to show them; a browser has none.

#[cfg(not(target_family = "wasm"))]
mod terminal {
    use comfy_table::{Attribute, Cell, Color, Table};

    use crate::score::Verdict;

    pub fn table(mut table: Table, colour: bool) -> Table {
        match colour {
            true => table.enforce_styling(),
            false => table.force_no_tty(),
        };
        table
    }

    pub fn bold(cell: Cell) -> Cell {
        cell.add_attribute(Attribute::Bold)
    }

    pub fn coloured(cell: Cell, verdict: Verdict) -> Cell {
        cell.fg(match verdict {
            Verdict::Crisp => Color::Green,
            Verdict::Fair => Color::Cyan,
            Verdict::Rough => Color::Yellow,
            Verdict::NoLight => Color::Red,
            Verdict::Doubtful => Color::Magenta,
        })
    }
}

#[cfg(target_family = "wasm")]
mod terminal {
    use comfy_table::{Cell, Table};

    use crate::score::Verdict;

    pub fn table(table: Table, _colour: bool) -> Table {
        table
    }

    pub fn bold(cell: Cell) -> Cell {
        cell
    }

    pub fn coloured(cell: Cell, _verdict: Verdict) -> Cell {
        cell
    }
}

pub use terminal::{bold, coloured, table};
