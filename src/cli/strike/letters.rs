//! Block letters that can be read from a few steps away.

/// Rows of a letter.
pub const ROWS: usize = 5;
/// Columns of a letter, the gap behind it left out.
const COLUMNS: usize = 5;

/// A text as rows of dots, five rows high and six columns a letter; `None` where a letter has no picture.
pub fn dots(text: &str) -> Option<Vec<Vec<bool>>> {
    let mut rows = vec![Vec::new(); ROWS];
    for c in text.chars() {
        let picture = picture(c)?;
        let wide = picture.iter().map(|row| row.len()).max().unwrap_or(0);
        for (row, line) in rows.iter_mut().zip(picture) {
            let mut dots: Vec<bool> = line.bytes().map(|b| b == b'#').collect();
            dots.resize(wide + 1, false);
            row.extend(dots);
        }
    }
    Some(rows)
}

/// A letter, each row up to its last dot.
fn picture(c: char) -> Option<[&'static str; ROWS]> {
    let c = c.to_uppercase().next()?;
    let found = PICTURES.iter().find(|(of, _)| *of == c);
    debug_assert!(found.is_none_or(|(_, rows)| rows.iter().all(|row| row.len() <= COLUMNS)));
    found.map(|(_, rows)| *rows)
}

#[rustfmt::skip]
const PICTURES: [(char, [&str; ROWS]); 42] = [
    (' ', ["   ", "   ", "   ", "   ", "   "]),
    ('A', [" ###", "#   #", "#####", "#   #", "#   #"]),
    ('B', ["####", "#   #", "####", "#   #", "####"]),
    ('C', [" ####", "#", "#", "#", " ####"]),
    ('D', ["####", "#   #", "#   #", "#   #", "####"]),
    ('E', ["#####", "#", "####", "#", "#####"]),
    ('F', ["#####", "#", "####", "#", "#"]),
    ('G', [" ####", "#", "#  ##", "#   #", " ####"]),
    ('H', ["#   #", "#   #", "#####", "#   #", "#   #"]),
    ('I', ["###", " #", " #", " #", "###"]),
    ('J', ["  ###", "   #", "   #", "#  #", " ##"]),
    ('K', ["#   #", "#  #", "###", "#  #", "#   #"]),
    ('L', ["#", "#", "#", "#", "####"]),
    ('M', ["#   #", "## ##", "# # #", "#   #", "#   #"]),
    ('N', ["#   #", "##  #", "# # #", "#  ##", "#   #"]),
    ('O', [" ###", "#   #", "#   #", "#   #", " ###"]),
    ('P', ["####", "#   #", "####", "#", "#"]),
    ('Q', [" ###", "#   #", "# # #", "#  #", " ## #"]),
    ('R', ["####", "#   #", "####", "#  #", "#   #"]),
    ('S', [" ####", "#", " ###", "    #", "####"]),
    ('T', ["#####", "  #", "  #", "  #", "  #"]),
    ('U', ["#   #", "#   #", "#   #", "#   #", " ###"]),
    ('V', ["#   #", "#   #", "#   #", " # #", "  #"]),
    ('W', ["#   #", "#   #", "# # #", "## ##", "#   #"]),
    ('X', ["#   #", " # #", "  #", " # #", "#   #"]),
    ('Y', ["#   #", " # #", "  #", "  #", "  #"]),
    ('Z', ["#####", "   #", "  #", " #", "#####"]),
    ('0', [" ##", "#  #", "#  #", "#  #", " ##"]),
    ('1', [" #", "##", " #", " #", "###"]),
    ('2', ["####", "    #", " ###", "#", "#####"]),
    ('3', ["####", "    #", " ###", "    #", "####"]),
    ('4', ["#  #", "#  #", "#####", "   #", "   #"]),
    ('5', ["#####", "#", "####", "    #", "####"]),
    ('6', [" ###", "#", "####", "#   #", " ###"]),
    ('7', ["#####", "    #", "   #", "  #", "  #"]),
    ('8', [" ###", "#   #", " ###", "#   #", " ###"]),
    ('9', [" ###", "#   #", " ####", "    #", " ###"]),
    ('-', ["", "", "####", "", ""]),
    ('.', ["", "", "", "", "#"]),
    ('/', ["    #", "   #", "  #", " #", "#"]),
    ('_', ["", "", "", "", "####"]),
    ('+', ["", "  #", "#####", "  #", ""]),
];

/// Rows of full blocks, `wide` columns a dot.
pub fn blocks(dots: &[Vec<bool>], wide: usize) -> Vec<String> {
    let row = |row: &Vec<bool>| {
        let block = |dot: &bool| if *dot { "█" } else { " " }.repeat(wide);
        row.iter().map(block).collect::<String>()
    };
    dots.iter().map(row).collect()
}

/// Rows of half blocks: two rows of dots in one of text.
pub fn half_blocks(dots: &[Vec<bool>]) -> Vec<String> {
    let none = Vec::new();
    let two = |two: &[Vec<bool>]| {
        let lower = two.get(1).unwrap_or(&none);
        let dot = |k: usize| match (two[0][k], lower.get(k).is_some_and(|dot| *dot)) {
            (true, true) => '█',
            (true, false) => '▀',
            (false, true) => '▄',
            (false, false) => ' ',
        };
        (0..two[0].len()).map(dot).collect::<String>()
    };
    dots.chunks(2).map(two).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_stand_beside_each_other_with_a_gap() {
        let dots = dots("l1").unwrap();
        assert_eq!(
            blocks(&dots, 1),
            [
                "█     █  ",
                "█    ██  ",
                "█     █  ",
                "█     █  ",
                "████ ███ "
            ]
        );
        assert_eq!(half_blocks(&dots), ["█    ▄█  ", "█     █  ", "▀▀▀▀ ▀▀▀ "]);
        assert_eq!(super::dots("é"), None);
    }

    #[test]
    fn no_two_letters_look_alike() {
        for (k, (one, picture)) in PICTURES.iter().enumerate() {
            for (other, second) in &PICTURES[k + 1..] {
                assert_ne!(picture, second, "{one} and {other}");
            }
        }
    }
}
