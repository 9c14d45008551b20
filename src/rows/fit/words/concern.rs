//! What was found, and why it matters.

use crate::fit::concern::Concern;
use crate::fit::tables::{FLAT, GRINDER_DEG, USUAL_EN_PCT, post_flow_s};
use crate::fit::words::quantity::{amps, amps_range, basis, mm};
use crate::format::trimmed;
use crate::job::shielding::Metal;
use crate::job::tip_state::TipState;

/// What was found, with numbers and units.
pub(super) fn what(concern: &Concern) -> String {
    use Concern::*;
    match concern {
        OverRange { .. }
        | UnderRange { .. }
        | SizeNotListed { .. }
        | NoRange { .. }
        | NoAmps
        | HeliumNearTop { .. }
        | TooHotForWork { .. }
        | TooColdForWork { .. } => current(concern),
        Positive { .. }
        | DirectOnLightMetal { .. }
        | AlternatingOnHeavyMetal { .. }
        | AcSettingOnDc
        | CleaningEnd { .. }
        | LittleCleaning { .. }
        | NoBalance => polarity(concern),
        TooSharp { .. }
        | TooBlunt { .. }
        | NeedleOnAc { .. }
        | PointOnAc { .. }
        | BallOnDc { .. }
        | BallOnInverter
        | FlatTooWide { .. }
        | UnusualTaper { .. }
        | TipSeen { .. } => tip(concern),
        ActiveGas
        | Hydrogen { .. }
        | Nitrogen
        | FlowLow { .. }
        | FlowHigh { .. }
        | CupSmall { .. }
        | Stickout { .. }
        | GapLong { .. }
        | GapShort { .. } => gas(concern),
        Unlike { .. } | InTurn { .. } => between(concern),
        _ => craft(concern),
    }
}

fn between(concern: &Concern) -> String {
    use Concern::*;
    match concern {
        Unlike { column, each } => {
            let of = |(name, values): &(String, Vec<String>)| match values.is_empty() {
                true => format!("{name}: not written down"),
                false => format!("{name}: {}", values.join(", ")),
            };
            let each: Vec<String> = each.iter().map(of).collect();
            format!("{column} is not the same for all ({})", each.join("; "))
        }
        InTurn { first, then } => format!("all rows of {first} stand before those of {then}"),
        _ => String::new(),
    }
}

fn current(concern: &Concern) -> String {
    use Concern::*;
    match concern {
        OverRange {
            amps: a,
            size_mm,
            basis: b,
            tables,
        } => format!(
            "{} is over the {} listed for {size_mm} mm ({})",
            amps(*a),
            amps_range(tables.first().map_or((0.0, 0.0), |(_, range)| *range)),
            basis(b)
        ),
        UnderRange {
            amps: a,
            size_mm,
            basis: b,
            lowest_a,
        } => format!(
            "{} is under the {} where the lowest table for {size_mm} mm begins ({})",
            amps(*a),
            amps(lowest_a.round()),
            basis(b)
        ),
        SizeNotListed { mm: d } => format!("no table here lists an electrode of {}", mm(*d)),
        NoRange { size_mm, basis: b } => {
            format!("{size_mm} mm is not recommended for {}", basis(b))
        }
        HeliumNearTop {
            helium_pct,
            amps: a,
            top_a,
        } => {
            let share = helium_pct.map_or("helium".to_owned(), |pct| {
                format!("{} % helium", trimmed(pct))
            });
            format!(
                "{} in {share}; argon's range for this electrode ends at {}",
                amps(*a),
                amps(top_a.round())
            )
        }
        TooHotForWork {
            amps: a,
            mm: t,
            metal,
            range,
        }
        | TooColdForWork {
            amps: a,
            mm: t,
            metal,
            range,
        } => format!(
            "{} on {} of {}; the table gives it {}",
            amps(*a),
            mm(*t),
            metal.word(),
            amps_range(*range)
        ),
        _ => "set_a is empty".to_owned(),
    }
}

fn polarity(concern: &Concern) -> String {
    use Concern::*;
    match concern {
        Positive {
            metal,
            amps: a,
            over,
        } => {
            let at = a.map_or(String::new(), |a| format!(" at {}", amps(a)));
            let on = metal.map_or(String::new(), |metal| format!(" on {}", metal.word()));
            let more = if *over {
                ", more than this electrode carries that way"
            } else {
                ""
            };
            format!("the row says electrode positive (dcep){at}{on}{more}: was it meant?")
        }
        DirectOnLightMetal { metal, helium } => {
            let gas = if *helium { " in helium" } else { "" };
            format!("{} on DC electrode negative{gas}", metal.word())
        }
        AlternatingOnHeavyMetal { metal } => format!("AC on {}: was it meant?", metal.word()),
        AcSettingOnDc => "a balance or an AC frequency stands in a DC row".to_owned(),
        CleaningEnd { en_pct } => {
            format!(
                "{} % electrode negative is the cleaning end of the balance",
                trimmed(*en_pct)
            )
        }
        LittleCleaning { en_pct } => {
            format!("{} % electrode negative cleans little", trimmed(*en_pct))
        }
        _ => "set_en_pct is empty".to_owned(),
    }
}

fn tip(concern: &Concern) -> String {
    use Concern::*;
    match concern {
        TooSharp {
            deg,
            ended,
            size_mm,
            amps: a,
            carries_a,
            ..
        } => {
            let end = if *ended {
                "with its flat"
            } else {
                "without a flat"
            };
            format!(
                "{}° {end} on {size_mm} mm is good to about {}, and {} are set",
                trimmed(*deg),
                amps(carries_a.round()),
                amps(*a)
            )
        }
        TooBlunt { deg, amps: a } => format!(
            "a blunt {}° taper is to start at {}",
            trimmed(*deg),
            amps(*a)
        ),
        NeedleOnAc { deg } => format!("a {}° needle on AC", trimmed(*deg)),
        PointOnAc { .. } => "a sharp point on AC".to_owned(),
        BallOnDc { tip } => format!("a {} tip on DC electrode negative", tip.name()),
        BallOnInverter => "a balled tip on an inverter's AC".to_owned(),
        FlatTooWide {
            flat_mm,
            diameter_mm,
        } => {
            format!(
                "the flat ({}) is over half of the diameter ({})",
                mm(*flat_mm),
                mm(*diameter_mm)
            )
        }
        UnusualTaper { deg } => format!(
            "{}° lies outside the {}–{}° that welders grind",
            trimmed(*deg),
            GRINDER_DEG.0,
            GRINDER_DEG.1
        ),
        TipSeen { state, .. } => match state {
            TipState::Oxidised => "the tip came out discoloured",
            TipState::Contaminated => "the tip came out with metal on it",
            TipState::Melted => "the tip came out rounded or balled",
            TipState::Broken => "the tip came out split or broken",
            TipState::Sound => "the tip came out sound",
        }
        .to_owned(),
        _ => unreachable!("not of the tip"),
    }
}

fn gas(concern: &Concern) -> String {
    use Concern::*;
    let flow = |lpm: &f64, range: &(f64, f64), helium: &bool| {
        let kind = if *helium { " with this helium" } else { "" };
        format!(
            "{} l/min ({:.0} cfh); {:.0}–{:.0} l/min is usual here{kind}",
            trimmed(*lpm),
            lpm * 60.0 / 28.317,
            range.0,
            range.1
        )
    };
    match concern {
        ActiveGas => "the gas holds carbon dioxide or oxygen".to_owned(),
        Hydrogen { metal } => format!("the gas holds hydrogen, and the work is {}", metal.word()),
        Nitrogen => "the gas holds nitrogen".to_owned(),
        FlowLow { lpm, range, helium } | FlowHigh { lpm, range, helium } => {
            flow(lpm, range, helium)
        }
        CupSmall {
            number,
            size_mm,
            range,
        } => format!(
            "a No. {number} cup on a {size_mm} mm electrode; No. {}–{} are usual",
            range.0, range.1
        ),
        Stickout {
            mm: out,
            diameter_mm,
            lens,
        } => {
            let lens = if *lens { ", with a gas lens" } else { "" };
            format!(
                "the electrode stands out {}, {:.1} × its diameter{lens}",
                mm(*out),
                out / diameter_mm
            )
        }
        GapLong {
            mm: gap,
            longest_mm,
        } => {
            format!(
                "a gap of {}; up to {} is usual for a strike",
                mm(*gap),
                mm(*longest_mm)
            )
        }
        GapShort { mm: gap } => format!("a gap of {} without a touch start", mm(*gap)),
        _ => unreachable!("not of the gas"),
    }
}

fn craft(concern: &Concern) -> String {
    use Concern::*;
    match concern {
        Thorium { class } => format!("{} is radioactive: it holds thorium", class.both_names()),
        ThoriumOnAc { class } | PureOnInverter { class } => format!("{} on AC", class.both_names()),
        ZirconiumOnDc { class } | PureOnDc { class } => format!("{} on DC", class.both_names()),
        UnspecifiedClass { class } => format!("{} leaves the oxide to its maker", class.name()),
        Crosswise => "the grind marks run around the electrode".to_owned(),
        CoarseWheel { wheel } => format!("a coarse wheel ({wheel})"),
        Scratch => "scratch start".to_owned(),
        LiftOnAc => "lift start on AC".to_owned(),
        LiftPure => "lift start with pure tungsten".to_owned(),
        NotWritten { keys } => format!("not written down: {}", keys.join(", ")),
        Unread {
            column: "flow",
            text,
        } => format!("the flow '{text}' has no unit known here"),
        Unread { column, text } => format!("'{text}' in column {column} is not known here"),
        NoRuns => "no row of the run sheet uses this prep".to_owned(),
        _ => unreachable!("told elsewhere"),
    }
}

/// Why it matters.
pub(super) fn why(concern: &Concern) -> String {
    use Concern::*;
    let (low, high) = USUAL_EN_PCT;
    match concern {
        Unlike { column: "coupon", .. } => "coupons differ, and grinds are compared on the coupons they share",
        Unlike { .. } => "a comparison takes what it does to the starts for a difference between the preps",
        InTurn { .. } => "the coupon warms, the hand tires, the gas runs down: whatever changes in between counts as a difference between them",
        OverRange { .. } => "the tip overheats, melts, and can spit tungsten into the weld",
        UnderRange { .. } => "so few amps leave a thick electrode cold: the arc lights late and wanders",
        SizeNotListed { .. } => "so the amps cannot be held against a range",
        NoRange { .. } => "electrode positive puts most of the heat into the tungsten, and this one melts",
        Positive { metal, .. } => match metal.is_some_and(Metal::needs_cleaning) {
            true => "electrode positive cleans, but most of the heat goes into the tungsten: it carries about a tenth of the amps",
            false => "electrode positive puts most of the heat into the tungsten and the work needs no cleaning: usually the leads are swapped, or left so after a tip was balled",
        },
        DirectOnLightMetal { helium: true, .. } => "helium makes it possible, on clean metal and mostly by machine; nothing takes the oxide off",
        DirectOnLightMetal { .. } => "electrode negative does not take the oxide off: the pool stays under its skin",
        AlternatingOnHeavyMetal { .. } => "steel and its like need no cleaning: on DC electrode negative the arc is steadier and the tip lasts",
        AcSettingOnDc => "either the process or the setting is wrong, and targets and tables go by the process",
        TooSharp { ended: false, .. } => "the thin end cannot carry the heat: it melts off, and the tungsten goes into the weld",
        TooSharp { .. } => "the end melts back, and no two starts see the same tip",
        TooBlunt { .. } => "so few amps heat a blunt tip too slowly: the arc lights late, off the point, or not at all",
        NeedleOnAc { .. } => "the positive half-cycles melt a thin end off",
        PointOnAc { .. } => "the positive half-cycles melt the point off, so the first starts are not like the later ones",
        BallOnDc { .. } => "the arc has no point to hold on to: it lights late and wanders over the round end",
        BallOnInverter => "an inverter's balance keeps a taper whole; a ball only makes the arc wander",
        FlatTooWide { .. } => return format!(
            "the wider the flat, the harder the start and the more the arc wanders on it; {}–{} × the diameter is usual",
            FLAT.0, FLAT.1
        ),
        UnusualTaper { .. } => "it may be half the angle: the key is the full angle between the two sides",
        Thorium { .. } => "it lights crisp and lasts, but the grinding dust must not be breathed in or swallowed; the welding itself adds little",
        ThoriumOnAc { .. } => "on AC thorium spits and its tip splits; lanthanum carries more",
        UnspecifiedClass { .. } => "no table lists it, so it is judged as tungsten with oxide",
        ZirconiumOnDc { .. } => "zirconium is for AC: it is not recommended on DC in any size",
        PureOnDc { .. } => "pure tungsten emits poorly: it lights harder and wears faster than any with oxide",
        PureOnInverter { .. } => "it carries less than tungsten with oxide and balls where no ball is wanted",
        Crosswise => "the arc can start on a ridge behind the tip and wander along it; lengthwise marks start better even when they are rough",
        CoarseWheel { .. } => "deep marks wear faster and hold dirt, though lengthwise ones still start better than any around the electrode",
        CleaningEnd { .. } => return format!(
            "the positive share heats the tip until it rounds or melts; {low:.0}–{high:.0} % is usual, and the balance is often left here after a tip was balled"
        ),
        LittleCleaning { .. } => "oxide that stays makes the arc restart poorly and the pool dirty; on clean metal it spares the tip",
        NoBalance => "how much a tip carries on AC hangs on the balance, and the share measured cannot be held against the share set",
        Scratch => "the tip touches at full current: it picks up metal and leaves tungsten in the work, so the next start has another tip",
        LiftOnAc => "many machines lift on DC only; on AC the tip sticks or does not light",
        LiftPure => "pure tungsten emits poorly while it is cold, so it is touched longer and picks up more",
        ActiveGas => "it burns the tungsten at once",
        Hydrogen { .. } => "hydrogen makes this metal porous or cracks it; it is for austenitic stainless steel and nickel",
        Nitrogen => "nitrogen wears the tip faster, so later starts are not like the first ones",
        HeliumNearTop { .. } => "in helium the arc is hotter, and the ranges, which are for argon, must be reduced; by how much the source does not say",
        FlowLow { .. } => "too little gas: the tip oxidises, and an oxidised tip lights badly",
        FlowHigh { .. } => "too much gas swirls and draws in air, and blows at the arc while it lights",
        CupSmall { .. } => "a small cup covers less and shields worse: the tip oxidises",
        Stickout { .. } => "beyond the shield of gas the tip oxidises, and an oxidised tip lights badly",
        GapLong { .. } => "the spark has to jump it: long gaps light late or not at all",
        GapShort { .. } => "the tip touches at the slightest move, and then it has metal on it",
        TooHotForWork { .. } => "the coupon melts through or away, and the arc gap with it",
        TooColdForWork { .. } => "it makes no pool: well enough for starts on a thick coupon, not for a weld",
        TipSeen { state, amps, .. } => return seen(*state, post_flow_s(*amps)),
        NotWritten { .. } => "what is not written down is not checked, and nobody can grind it again",
        NoAmps => "without the amps set, electrode and tip cannot be judged before the welding",
        Unread { .. } => "so it was not checked",
        NoRuns => "amps, balance and start method stand in the sheet, so they were not checked",
    }
    .to_owned()
}

fn seen(state: TipState, post_flow_s: f64) -> String {
    match state {
        TipState::Oxidised => format!(
            "it was hot without gas over it: possibly too short a post-flow ({post_flow_s:.0} s is usual for these amps), too little flow, or a draught"
        ),
        TipState::Contaminated => "a tip that touched the pool or the rod starts badly from then on: the starts after it are not of this grind".to_owned(),
        TipState::Melted => "it was too hot for its shape: possibly too many amps for the taper, or too much positive".to_owned(),
        TipState::Broken => "the arc holds on to a broken edge: possibly too many amps, or a brittle electrode".to_owned(),
        TipState::Sound => String::new(),
    }
}
