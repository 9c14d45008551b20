//! What a figure is written as: SVG, or PNG where it can be drawn.

use std::path::Path;

use crate::error::{Error, ErrorKind, Result};
use crate::output::Form;
use crate::report::figure;
#[cfg(not(target_family = "wasm"))]
use crate::report::png::{PNG, png};

/// Kind of picture. A browser draws SVG itself, so the page goes without PNG and its font.
#[derive(Debug, Clone, Copy)]
pub enum Picture {
    /// Scalable Vector Graphics.
    Svg,
    /// Portable Network Graphics.
    #[cfg(not(target_family = "wasm"))]
    Png,
}

impl Picture {
    /// The kind that a file's name ends in.
    ///
    /// # Errors
    /// Another ending.
    pub fn by_ending(path: &Path) -> Result<Picture> {
        match path.extension().and_then(|e| e.to_str()) {
            Some("svg") => Ok(Picture::Svg),
            #[cfg(not(target_family = "wasm"))]
            Some("png") => Ok(Picture::Png),
            _ => {
                let problem = "ends in neither .svg nor .png";
                let at = path.display().to_string();
                Err(Error::new(ErrorKind::OutputUnclear, at, problem)
                    .hint("Name it like traces.svg"))
            }
        }
    }

    /// How its files end.
    pub fn ending(self) -> &'static str {
        match self {
            Picture::Svg => "svg",
            #[cfg(not(target_family = "wasm"))]
            Picture::Png => "png",
        }
    }

    /// The form of its files.
    pub fn form(self) -> &'static Form {
        match self {
            Picture::Svg => &figure::SVG,
            #[cfg(not(target_family = "wasm"))]
            Picture::Png => &PNG,
        }
    }

    /// A figure as the bytes of a file.
    pub fn bytes(self, svg: &str) -> Vec<u8> {
        match self {
            Picture::Svg => figure::alone(svg).into_bytes(),
            #[cfg(not(target_family = "wasm"))]
            Picture::Png => png(svg),
        }
    }
}
