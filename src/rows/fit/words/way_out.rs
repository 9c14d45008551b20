//! What to try: the ways that were checked, and what goes with them.

use crate::fit::concern::Concern;
use crate::fit::edit::Edit;
use crate::fit::tables::post_flow_s;
use crate::job::shielding::Metal;
use crate::job::tip_state::TipState;

/// What to try against a concern.
pub(super) fn to_try(concern: &Concern, ways: &[Vec<Edit>]) -> String {
    let checked = in_words(ways);
    match (before(concern), checked.is_empty()) {
        (_, true) => without_a_way(concern),
        (lead, false) => format!("{lead}{checked}{}", after(concern)),
    }
}

fn in_words(ways: &[Vec<Edit>]) -> String {
    let words: Vec<String> = ways
        .iter()
        .map(|way| {
            let edits: Vec<String> = way.iter().map(|edit| edit.words()).collect();
            edits.join(" and ")
        })
        .collect();
    words.join("; or ")
}

/// What is said before the checked ways.
fn before(concern: &Concern) -> &'static str {
    use Concern::*;
    match concern {
        Positive { metal, .. } if metal.is_some_and(Metal::needs_cleaning) => "set ",
        Positive { .. } => "if it was not meant, swap the polarity: ",
        AlternatingOnHeavyMetal { .. } => "if it was not meant: ",
        AcSettingOnDc => "see which of the two was set: ",
        CleaningEnd { .. } | LittleCleaning { .. } => "set ",
        DirectOnLightMetal { .. } => "weld it on ",
        _ => "",
    }
}

/// What is said after them.
fn after(concern: &Concern) -> &'static str {
    use Concern::*;
    match concern {
        Positive { .. } => ", and grind the tip anew",
        CleaningEnd { .. } => {
            " and mind which side the machine shows; if it cannot be set, stay under the balanced range"
        }
        PointOnAc { pure: false } => "; or a few starts on scrap that are not counted",
        Thorium { .. } => {
            "; else extract at the wheel, never sweep dry or blow off, keep the dust closed, and dispose of it as the local rules say"
        }
        Stickout { lens: false, .. } => {
            "; where the joint needs more, a longer cup or a gas lens helps only out of draughts"
        }
        FlowLow { .. } => ", held for the post-flow too",
        BallOnDc { .. } => ", after cutting the end off",
        _ => "",
    }
}

/// What is said where no change of the sheet was found to do it.
fn without_a_way(concern: &Concern) -> String {
    use Concern::*;
    match concern {
        OverRange { .. } | NoRange { .. } => "another electrode and other amps together: no single size here takes them",
        UnderRange { .. } => "more amps, or a thinner electrode ground anew for it",
        SizeNotListed { .. } => "the range on the packet; the tables here know trade sizes",
        TooSharp { .. } => "a blunter taper and a thicker electrode together",
        UnspecifiedClass { .. } => "read the range on the packet, or take a class that says what is in it",
        Positive { .. } => "look at the leads first; then set polarity, electrode and amps anew",
        NoBalance => "read the share off the machine and write it down; where it shows the cleaning side, write 100 less that",
        NotWritten { .. } => "add it to the job file",
        NoAmps => "write the amps set on the machine into the run sheet",
        Unread { column: "flow", .. } => "write l/min or cfh behind the number",
        Unread { column: "cup", .. } => "write the cup's number, or its bore in mm",
        Unread { .. } => "name what is in it: argon, helium, and the shares",
        NoRuns => "add its runs, or take the prep out",
        Unlike { column: "coupon", .. } => "strike every prep on each coupon",
        Unlike { .. } => "set it alike for all, or strike every prep at each setting",
        InTurn { .. } => "mix the order: tipstrike plan writes one",
        TipSeen { state, amps, .. } => return after_the_run(*state, post_flow_s(*amps)),
        _ => "settle the other findings of this row first: what helps here depends on them",
    }
    .to_owned()
}

fn after_the_run(state: TipState, post_flow_s: f64) -> String {
    match state {
        TipState::Oxidised => format!("keep the gas on for at least {post_flow_s:.0} s after the arc, and look for draughts and leaks"),
        TipState::Contaminated => "break it off or cut it, grind it anew, and leave the starts after the touch out of the comparison".to_owned(),
        TipState::Melted => "grind it anew and blunter, or set fewer amps or more negative".to_owned(),
        TipState::Broken => "cut it back to sound metal and grind it anew; look whether the piece lies in the weld".to_owned(),
        TipState::Sound => String::new(),
    }
}
