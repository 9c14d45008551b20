//! Two groups compared by their tips: measures and rates.

use crate::measure::{Better, Kind, Quantity, Transform};
use crate::parallel;
use crate::stats;
use crate::stats::{Interval, TipShift, TipSpread, TipStart, TipTrial, TipValues};
use crate::study::by_starts;
use crate::study::comparison::{
    About, Event, Pair, PairVerdict, Range, RateDifference, Share, Withheld,
};
use crate::study::groups::Judged;
use crate::study::options::{CompareOptions, POWER};

/// More tips than this in each group are out of reach.
const OUT_OF_REACH: usize = 500;

/// Rates this close are alike: a project default, in parts of one.
pub const RATE_MARGIN: f64 = 0.10;

/// Name of all other groups together.
pub const OTHERS: &str = "all others";

/// The starts of two groups that have a value.
pub(super) struct Two<'a> {
    /// Names of the groups.
    pub ids: [&'a str; 2],
    /// Their starts, with the side they are on.
    pub starts: Vec<(usize, Judged<'a>)>,
}

impl<'a> Two<'a> {
    /// The starts of groups `a` and `b` among all.
    pub fn of(judged: &[Judged<'a>], ids: [&'a str; 2], groups: [usize; 2]) -> Self {
        let side = |start: &Judged<'a>| {
            let side = groups.iter().position(|g| *g == start.group)?;
            Some((side, *start))
        };
        Two {
            ids,
            starts: judged.iter().filter_map(side).collect(),
        }
    }

    /// The starts of one group, and those of all others as if they were one.
    pub fn against_others(judged: &[Judged<'a>], id: &'a str, group: usize) -> Self {
        let side = |start: &Judged<'a>| (usize::from(start.group != group), *start);
        Two {
            ids: [id, OTHERS],
            starts: judged.iter().map(side).collect(),
        }
    }
}

/// Values of one measure on the scale they are compared on.
struct Scaled {
    starts: Vec<TipStart>,
    /// The values of the same as they were measured.
    raw: Vec<f64>,
    scale: Transform,
}

impl Scaled {
    fn of(two: &Two, quantity: &Quantity) -> Scaled {
        let mut starts = Vec::with_capacity(two.starts.len());
        let mut raw = Vec::with_capacity(two.starts.len());
        for (side, start) in &two.starts {
            let Some(value) = start.row.value_of(quantity) else {
                continue;
            };
            raw.push(value);
            starts.push(TipStart {
                group: *side,
                tip: start.tip,
                coupon: start.coupon,
                value,
            });
        }
        // A single zero has no logarithm: then all stay as they are.
        let scale = match raw.iter().all(|value| *value > 0.0) {
            true => quantity.transform(),
            false => Transform::Linear,
        };
        for start in &mut starts {
            let scaled = scale.apply(start.value);
            start.value = scaled.expect("positive where a logarithm is taken");
        }
        Scaled { starts, raw, scale }
    }

    /// Side, coupon and value of each start, as it was measured.
    fn measured(&self) -> impl Iterator<Item = (usize, usize, f64)> + Clone {
        let both = self.starts.iter().zip(&self.raw);
        both.map(|(start, value)| (start.group, start.coupon, *value))
    }

    /// How many values a side has, and their median.
    fn middle(&self, side: usize) -> Option<(usize, f64)> {
        let own = self.measured().filter(|(s, _, _)| *s == side);
        let own: Vec<f64> = own.map(|(_, _, value)| value).collect();
        Some((own.len(), stats::median(&own)?))
    }
}

/// The numbers of one pair; verdict and Holm's p wait for the other pairs. `None` where one of the groups has no value.
pub(super) fn pair(two: &Two, name: &str, options: &CompareOptions, level: f64) -> Option<Pair> {
    let quantity = Quantity::named(name);
    let scaled = Scaled::of(two, &quantity);
    let (values, by_starts) = parallel::both(
        || stats::tip_values(&scaled.starts),
        || by_starts::level(scaled.measured(), level),
    );
    let by_starts = by_starts?;
    let tips = [0, 1].map(|side| values.tips.iter().filter(|t| t.group == side).count());
    let (n_a, median_a) = scaled.middle(0)?;
    let (n_b, median_b) = scaled.middle(1)?;
    let mut pair = Pair {
        a: two.ids[0].into(),
        b: two.ids[1].into(),
        measure: name.into(),
        about: About::Tips,
        tips_a: tips[0],
        tips_b: tips[1],
        n_a,
        n_b,
        median_a,
        median_b,
        usual_a: median_a,
        usual_b: median_b,
        shift: by_starts.0.shift,
        shift_lo: by_starts.0.lo,
        shift_hi: by_starts.0.hi,
        p: Some(by_starts.0.p),
        p_holm: None,
        cliffs_delta: by_starts.1,
        verdict: PairVerdict::NotEnough,
        withheld: None,
        better: options
            .better
            .get(name)
            .copied()
            .unwrap_or_else(|| quantity.better()),
        margin: options
            .margins
            .get(name)
            .copied()
            .or_else(|| quantity.margin()),
        blocks: by_starts.0.blocks,
        share: None,
        more_tips: None,
        more_starts: None,
        by_starts: by_starts.0,
    };
    if tips.iter().all(|n| *n > 1) {
        tell_by_tips(&mut pair, &values, &scaled, &quantity, level);
    }
    Some(pair)
}

fn tell_by_tips(
    pair: &mut Pair,
    values: &TipValues,
    scaled: &Scaled,
    quantity: &Quantity,
    level: f64,
) {
    let Some(found) = stats::tip_shift(&values.tips, 0, 1) else {
        return;
    };
    let units = Units::new(scaled.scale, &found);
    pair.about = About::Prep;
    pair.blocks = found.blocks;
    (pair.usual_a, pair.usual_b) = (
        units.usual(-0.5 * found.shift),
        units.usual(0.5 * found.shift),
    );
    pair.shift = units.difference(found.shift);
    (pair.shift_lo, pair.shift_hi, pair.p) = (None, None, None);
    pair.share = stats::tip_share(values, level).map(|s| Share {
        share: s.share,
        lo: s.lo,
        hi: s.hi,
    });
    let counted = match quantity {
        Quantity::Score => true,
        Quantity::Measure(measure) => measure.kind() == Kind::Count,
        Quantity::Column(_) => false,
    };
    let single = values.tips.len() == scaled.starts.len() && pair.tips_a.min(pair.tips_b) <= 3;
    let Some(spread) = found.spread else {
        pair.withheld = Some(Withheld::NoSpread);
        return;
    };
    if counted && single {
        pair.withheld = Some(Withheld::OneStartATip);
    } else if pair.tips_a.min(pair.tips_b) == 2 && pair.tips_a != pair.tips_b {
        // By simulation: with three times the spread in the two, 9 of 100 equal grinds would be told apart.
        pair.withheld = Some(Withheld::UnequalTips);
    }
    let Interval { lo, hi } = spread.interval(found.shift, level);
    (pair.shift_lo, pair.shift_hi) = (Some(units.difference(lo)), Some(units.difference(hi)));
    pair.p = Some(spread.p(found.shift));
    pair.more_tips = pair
        .margin
        .and_then(|margin| more_tips(pair, &spread, units.on_scale(margin), level));
    pair.more_starts = pair.more_tips.map(|tips| {
        let each = scaled.starts.len().div_ceil(values.tips.len());
        Range {
            lo: tips.lo * each,
            enough: tips.enough * each,
            hi: tips.hi * each,
        }
    });
}

/// From the scale of the comparison back to the measure's unit.
struct Units {
    scale: Transform,
    centre: f64,
}

impl Units {
    fn new(scale: Transform, found: &TipShift) -> Units {
        Units {
            scale,
            centre: found.centre,
        }
    }

    fn usual(&self, off: f64) -> f64 {
        match self.scale {
            Transform::Linear => self.centre + off,
            Transform::Log => libm::exp(self.centre + off),
        }
    }

    /// Of a shift d in logarithms 2 G sinh(d/2), G the geometric mean of the two usual values: their difference.
    fn difference(&self, d: f64) -> f64 {
        match self.scale {
            Transform::Linear => d,
            Transform::Log => 2.0 * libm::exp(self.centre) * libm::sinh(0.5 * d),
        }
    }

    fn on_scale(&self, difference: f64) -> f64 {
        match self.scale {
            Transform::Linear => difference,
            Transform::Log => 2.0 * libm::asinh(0.5 * difference / libm::exp(self.centre)),
        }
    }
}

/// Tips of each besides those at hand that would show the margin; a spread from two degrees of freedom is too poorly
/// known to print a range.
fn more_tips(pair: &Pair, spread: &TipSpread, margin: f64, level: f64) -> Option<Range> {
    if spread.variance_df <= 2.0 {
        return None;
    }
    let needed = stats::tips_needed(spread.variance, spread.variance_df, margin, level, POWER);
    let (a, b) = (pair.tips_a as f64, pair.tips_b as f64);
    let now = (2.0 * a * b / (a + b)).floor() as usize;
    let more = |tips: usize| tips.saturating_sub(now).max(1);
    (needed.hi <= OUT_OF_REACH).then(|| Range {
        lo: more(needed.lo),
        enough: more(needed.enough),
        hi: more(needed.hi),
    })
}

/// The rates of every event in two groups.
pub(super) fn rates(two: &Two, level: f64) -> Vec<RateDifference> {
    let placed: Vec<TipStart> = two
        .starts
        .iter()
        .map(|(side, start)| TipStart {
            group: *side,
            tip: start.tip,
            coupon: start.coupon,
            value: 0.0,
        })
        .collect();
    let tips = stats::tip_values(&placed).tips;
    let events = Event::ALL.into_iter();
    events
        .filter_map(|event| rate(two, event, &tips, level))
        .collect()
}

fn rate(two: &Two, event: Event, tips: &[stats::TipValue], level: f64) -> Option<RateDifference> {
    let happened = |start: &Judged| event.happened(start.row);
    let mut events = vec![0; 1 + tips.last()?.tip];
    for (_, start) in two.starts.iter().filter(|(_, start)| happened(start)) {
        events[start.tip] += 1;
    }
    let trials: Vec<TipTrial> = tips
        .iter()
        .map(|tip| TipTrial {
            group: tip.group,
            block: tip.block,
            events: events[tip.tip],
            starts: tip.starts,
        })
        .collect();
    let several = [0, 1]
        .iter()
        .all(|side| tips.iter().filter(|t| t.group == *side).count() > 1);
    let (about, rate_a, rate_b, interval, p) = if several {
        let found = stats::tip_rates(&trials, 0, 1, level)?;
        (
            About::Prep,
            found.rate_a,
            found.rate_b,
            found.interval,
            found.p,
        )
    } else {
        let count = |side: usize| {
            let own = trials.iter().filter(|t| t.group == side);
            own.fold((0, 0), |(k, n), t| {
                (k + t.events as u64, n + t.starts as u64)
            })
        };
        let (a, b) = (count(0), count(1));
        let part = |(k, n): (u64, u64)| k as f64 / n as f64;
        let p = stats::fisher(a, b, stats::Tail::Both);
        (
            About::Tips,
            part(a),
            part(b),
            stats::newcombe(a, b, level),
            p,
        )
    };
    Some(RateDifference {
        a: two.ids[0].into(),
        b: two.ids[1].into(),
        event,
        about,
        rate_a,
        rate_b,
        diff: rate_b - rate_a,
        diff_lo: interval.lo,
        diff_hi: interval.hi,
        p,
    })
}

/// The verdict of a pair once Holm's p is known; `rates` are those of the two groups.
pub(super) fn judge(pair: &mut Pair, rates: &[RateDifference], level: f64) {
    let differs = pair.p_holm.is_some_and(|p| p < 1.0 - level);
    let (lo, hi) = (pair.shift_lo, pair.shift_hi);
    let inside = |margin: f64| {
        [lo, hi]
            .iter()
            .all(|end| end.is_some_and(|x| x.abs() < margin))
    };
    let shift_shows = lo.is_some_and(|lo| lo > 0.0) || hi.is_some_and(|hi| hi < 0.0);
    let negligible = pair.margin.is_some_and(inside);
    pair.verdict = PairVerdict::NotEnough;
    if pair.withheld.is_some() {
        return;
    }
    // Where ties hold a shift by starts at zero although the ranks differ (counts), it is too coarse to call the
    // groups alike.
    if negligible && (shift_shows || !differs) {
        let alike =
            |rate: &RateDifference| rate.diff_lo > -RATE_MARGIN && rate.diff_hi < RATE_MARGIN;
        let poor = |rate: &&RateDifference| rate.event != Event::NoLight;
        if pair.better == Better::Neither || rates.iter().filter(poor).all(alike) {
            pair.verdict = PairVerdict::NoDifference;
            (pair.more_tips, pair.more_starts) = (None, None);
        } else {
            pair.withheld = Some(Withheld::PoorStarts);
        }
        return;
    }
    if differs {
        let b_higher = match pair.about {
            About::Prep => pair.shift > 0.0,
            About::Tips => pair.cliffs_delta > 0.0,
        };
        pair.verdict = match b_higher == (pair.better == Better::Higher) {
            true => PairVerdict::BBetter,
            false => PairVerdict::ABetter,
        };
        (pair.more_tips, pair.more_starts) = (None, None);
    }
}

/// Share of variance between tips where nothing tells it: this project's own starting point, no source.
pub const USUAL_SHARE: f64 = 0.2;

/// Shift in standard deviations of single starts that the advice for one tip of each plans with, likewise.
const USUAL_SHIFT: f64 = 1.0;

/// Grinds of each that would show a difference of one standard deviation, with this many starts on a tip.
pub fn tips_to_begin_with(starts: usize, level: f64) -> usize {
    let variance = USUAL_SHARE + (1.0 - USUAL_SHARE) / starts.max(1) as f64;
    stats::tips_size(variance, USUAL_SHIFT, level, POWER).ceil() as usize
}
