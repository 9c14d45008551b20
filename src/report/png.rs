//! Renders figures as PNG with an embedded free font (DejaVu Sans), so that the bytes are the same on every machine.

use std::sync::Arc;

use flate2::Crc;

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};

use crate::output::Form;

/// A figure as PNG.
pub const PNG: Form = Form {
    name: "a PNG figure of this tool",
    is_own: |head| head.starts_with(b"\x89PNG") && head.get(HEADER..).is_some_and(begins_marked),
};

/// Length of the signature and the first chunk of a PNG file, bytes.
const HEADER: usize = 33;
/// A text chunk that names the program (W3C PNG, 11.3.3), type and data.
const MARK: &[u8] = b"tEXtSoftware\0tipstrike";

fn begins_marked(chunks: &[u8]) -> bool {
    chunks.get(4..).is_some_and(|chunk| chunk.starts_with(MARK))
}

/// Pixels per unit of the figure: sharp in print at page width.
const SCALE: f32 = 2.0;

/// Renders a figure of this crate.
pub fn png(svg: &str) -> Vec<u8> {
    let mut fonts = fontdb::Database::new();
    fonts.load_font_data(dejavu::sans::regular().to_vec());
    fonts.set_sans_serif_family("DejaVu Sans");
    let options = Options {
        fontdb: Arc::new(fonts),
        ..Options::default()
    };
    let tree = Tree::from_str(svg, &options).expect("figures of this crate are SVG");
    let size = tree
        .size()
        .to_int_size()
        .scale_by(SCALE)
        .expect("a figure has a size");
    let mut pixels = Pixmap::new(size.width(), size.height()).expect("a figure has a size");
    resvg::render(
        &tree,
        Transform::from_scale(SCALE, SCALE),
        &mut pixels.as_mut(),
    );
    marked(
        pixels
            .encode_png()
            .expect("encoding into memory cannot fail"),
    )
}

/// Puts the mark behind the first chunk.
fn marked(mut png: Vec<u8>) -> Vec<u8> {
    let mut crc = Crc::new();
    crc.update(MARK);
    let length = (MARK.len() - b"tEXt".len()) as u32;
    let chunk = [&length.to_be_bytes()[..], MARK, &crc.sum().to_be_bytes()].concat();
    png.splice(HEADER..HEADER, chunk);
    png
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_are_drawn_without_any_font_of_the_system() {
        let draw = |text: &str| {
            png(&format!(
                "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"60\" height=\"20\">\
                 <text x=\"2\" y=\"15\" font-family=\"sans-serif\" font-size=\"14\">{text}</text></svg>"
            ))
        };
        assert!((PNG.is_own)(&draw("lit")));
        assert_ne!(draw("lit"), draw(""), "no letter was drawn");
        assert_eq!(draw("lit"), draw("lit"));
    }
}
