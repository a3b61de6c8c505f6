//! What part a section plays in its song, read from its name: "Verse 2" and "verse 1" are verses,
//! "Last chorus" is a chorus. Sections of two songs answer to each other by it.

/// Words that only count a section.
const COUNTING: [&str; 10] =
    ["first", "second", "third", "fourth", "last", "final", "double", "i", "ii", "iii"];

/// Parts of songs whose plural is known.
const KNOWN: [(&str, &str); 14] = [
    ("intro", "intros"),
    ("verse", "verses"),
    ("pre-chorus", "pre-choruses"),
    ("prechorus", "prechoruses"),
    ("chorus", "choruses"),
    ("refrain", "refrains"),
    ("hook", "hooks"),
    ("bridge", "bridges"),
    ("break", "breaks"),
    ("solo", "solos"),
    ("interlude", "interludes"),
    ("build", "builds"),
    ("drop", "drops"),
    ("outro", "outros"),
];

/// The role of a section of this name, in small letters; the whole name if that only counts.
pub fn role(name: &str) -> String {
    let lower = name.trim().to_lowercase();
    let words = lower.split(|c: char| c.is_whitespace() || c == '#' || c == '_');
    let says = |word: &&str| {
        let digits = word.trim_end_matches(|c: char| c.is_ascii_digit() || c == '.');
        !digits.is_empty() && !COUNTING.contains(word)
    };
    let kept: Vec<&str> = words
        .filter(says)
        .map(|word| word.trim_end_matches(|c: char| c.is_ascii_digit()))
        .collect();
    if kept.is_empty() { lower } else { kept.join(" ") }
}

/// "in the verses", "in the bridge", or the name as it is where the part has no known plural.
pub fn place(role: &str, names: &[&str]) -> String {
    let known = KNOWN.iter().find(|(one, _)| *one == role);
    match (known, names) {
        (Some((_, many)), [_, _, ..]) => format!("in the {many}"),
        (Some((one, _)), _) => format!("in the {one}"),
        (None, names) => {
            let quoted: Vec<String> = names.iter().map(|name| format!("“{name}”")).collect();
            format!("in {}", quoted.join(", "))
        }
    }
}

/// Which of `theirs` the section number `at` of `ours` answers to: one of the same name, else of the
/// same role, counted from the first one on; the last of ours answers to the last of theirs.
pub fn counterpart(ours: &[&str], at: usize, theirs: &[&str]) -> Option<usize> {
    let name = ours.get(at)?;
    let same_name = |other: &&str| other.trim().to_lowercase() == name.trim().to_lowercase();
    if let Some(found) = theirs.iter().position(same_name) {
        return Some(found);
    }
    let wanted = role(name);
    let of_role = |names: &[&str]| -> Vec<usize> {
        let found = names.iter().enumerate().filter(|(_, other)| role(other) == wanted);
        found.map(|(index, _)| index).collect()
    };
    let (mine, candidates) = (of_role(ours), of_role(theirs));
    let rank = mine.iter().position(|index| *index == at)?;
    if rank + 1 == mine.len() && rank > 0 {
        return candidates.last().copied();
    }
    candidates.get(rank).or(candidates.last()).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_only_count_differently_play_the_same_part() {
        for (name, expected) in [
            ("Verse 1", "verse"),
            (" VERSE 2 ", "verse"),
            ("Verse2", "verse"),
            ("Last chorus", "chorus"),
            ("Final Chorus", "chorus"),
            ("Pre-chorus #2", "pre-chorus"),
            ("Guitar solo", "guitar solo"),
            ("2", "2"),
            ("Last", "last"),
            ("", ""),
        ] {
            assert_eq!(role(name), expected, "{name}");
        }
    }

    #[test]
    fn the_last_chorus_answers_to_the_last_chorus() {
        let ours = ["Verse 1", "Chorus 1", "Verse 2", "Chorus 2", "Bridge", "Last chorus"];
        let theirs = ["Intro", "Verse 1", "Chorus 1", "Verse 2", "Chorus 2", "Chorus 3"];
        let found = |at| counterpart(&ours, at, &theirs);
        assert_eq!([found(0), found(1), found(3)], [Some(1), Some(2), Some(4)]);
        assert_eq!(found(5), Some(5));
        assert_eq!(found(4), None);
        // Theirs has one only.
        let theirs = ["verse", "chorus"];
        let found = [0, 2, 1, 3, 5].map(|at| counterpart(&ours, at, &theirs));
        assert_eq!(found, [Some(0), Some(0), Some(1), Some(1), Some(1)]);
        assert_eq!(counterpart(&["chorus"], 0, &["Chorus 1", "Chorus 2"]), Some(0));
    }

    #[test]
    fn places_are_told_as_a_musician_would() {
        assert_eq!(place("verse", &["Verse 1", "Verse 2"]), "in the verses");
        assert_eq!(place("bridge", &["Bridge"]), "in the bridge");
        assert_eq!(place("strophe", &["Strophe 1", "Strophe 2"]), "in “Strophe 1”, “Strophe 2”");
    }
}
