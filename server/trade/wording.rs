//! What a call-back says: on the phone, in an e-mail, in a text, and on a sheet on the fridge door.
//!
//! The farm says it in its own words; this chapter offers some to begin with and looks over whatever is written. What a recall
//! message has to hold, and what has no place in it, is 21 CFR 7.49: (a)(1) to (4) and (c)(1)(i) and (ii) as read; that it says
//! why, what to do and how to answer, and holds nothing irrelevant, is (c)(1)(iii) to (v) and (c)(2), from memory. The usual words
//! about illness are common practice.

use super::remarks::Remark;

/// What stands in brackets and is filled in for each household.
pub const BLANKS: [(&str, &str); 3] =
    [("[lots]", "the codes that household had"), ("[farm]", "the farm's name"), ("[phone]", "the farm's phone")];

/// What a wording is filled in from.
#[derive(Clone, Debug, Default)]
pub struct Filling {
    /// The codes.
    pub lots: Vec<String>,
    /// The farm.
    pub farm: String,
    /// Its phone.
    pub phone: String,
}

/// Words with every blank filled in.
#[must_use]
pub fn filled(words: &str, with: &Filling) -> String {
    let phone = if with.phone.trim().is_empty() { "the number you know" } else { &with.phone };
    words.replace("[lots]", &with.lots.join(", ")).replace("[farm]", &with.farm).replace("[phone]", phone)
}

/// The subject of an e-mail: marked urgent, as a recall of class I or II has to be (21 CFR 7.49(b)).
#[must_use]
pub fn subject(farm: &str) -> String {
    format!("URGENT: milk call-back (recall), {farm}")
}

/// Why milk is called back, in words that name nobody and no cause.
#[must_use]
pub fn because_said(because: &str) -> &'static str {
    match because {
        "illness" => "Somebody who drank milk of these days is ill. Nobody knows why yet, and the milk cannot be excluded.",
        "pathogen found" => "A laboratory found germs in this milk that can make people ill.",
        "treated cow in the can" => "Milk of a cow that was being treated may be in it.",
        "not cold in time" | "fridge found warm" => "It may not have been kept cold enough.",
        "label or date" => "The label or the date on it may be wrong.",
        _ => "Something about this milk is not as it should be.",
    }
}

/// Words to begin with.
#[must_use]
pub fn offered(way: &str, because: &str) -> String {
    let why = because_said(because);
    match way {
        "text" => format!(
            "[farm]: URGENT call-back (recall) of milk. Lots [lots]. {why} Do not drink it or pass it on; tell anybody you gave some to. Keep \
             the jars cold, closed, unwashed. Anyone ill: doctor first, and say raw milk. Tell us what you have: [phone]"
        ),
        "e-mail" => format!(
            "[farm] is calling back (recalling) milk.\n\nJars with these codes on the lid: [lots]. If you cannot read the \
             lid, take every jar of ours you have to be one of them.\n\n{why}\n\nPlease stop drinking it now, and do not pass it on. If you gave \
             any away or made something of it, tell whoever has it the same.\n\nKeep the jars cold, closed and unwashed, apart from other food, \
             until we have told you what to do with them. Frozen milk, yogurt, kefir, cheese and butter made from it count too.\n\nIf anybody is \
             ill, see a doctor first and say that they drank raw milk.\n\nTell us that you have read this, and how many jars you have drunk, have \
             left, froze or gave away: [phone], or answer this letter."
        ),
        "door sheet" => format!(
            "URGENT: milk call-back (recall)\n\nDo not drink, and do not pass on, milk from jars marked\n[lots]\n\n{why}\n\nTell whoever you gave \
             some to.\nKeep the jar cold, closed and unwashed.\nAnyone ill: doctor first, and say it was raw milk.\n\nRing [farm]: [phone]"
        ),
        _ => format!(
            "This is [farm]. We are calling back (recalling) milk, and it is urgent. Is anybody with you ill? Then a doctor first, and say that \
             they drank raw milk.\n\nPlease look for jars marked [lots]. {why}\n\nDo not drink it, and do not pass it on. If you gave any away, or \
             made something of it, tell them the same.\n\nKeep the jars cold, closed and unwashed.\n\nHow many did you have of each? Drunk, still \
             there, frozen, given away, and to whom?\n\nRing us back at [phone]. We will ring again and say what comes next."
        ),
    }
}

/// What has to be in a wording: what is looked for (any of the words of each group), and the sentence when it is missing.
const NEEDED: [(&[&[&str]], &str); 7] = [
    (&[&["recall"]], "Say that the milk is recalled: “call-back (recall)” (21 CFR 7.49(a)(1))."),
    (&[&["[lots]"]], "Say which jars: write [lots] where the codes go (7.49(c)(1)(ii))."),
    (&[&["do not drink", "don't drink", "stop drinking", "don’t drink"]], "Say to stop drinking it at once (7.49(a)(2))."),
    (&[&["pass it on", "pass on", "gave", "give it away", "passed on"]], "Say to tell whoever they gave some to (7.49(a)(3))."),
    (&[&["keep the jar", "bring", "return", "throw"]], "Say what to do with the jars (7.49(a)(4))."),
    (&[&["[phone]", "answer this", "555"]], "Say how to answer: write [phone] (7.49(c)(1)(v), from memory)."),
    (&[&["doctor"]], "Say that anybody ill sees a doctor first (common practice)."),
];

/// What has no place in a wording: a word or two, and the sentence when it is found.
const UNWANTED: [(&[&str], &str); 4] = [
    (&["safe to drink", "is safe", "are safe", "perfectly fine", "harmless"], "Nothing here says that milk is safe: leave that out."),
    (
        &["made them ill", "made him ill", "made her ill", "caused", "because of our milk", "to blame"],
        "Name no cause: say that the milk cannot be excluded, and leave the cause to the doctor and the health department.",
    ),
    (
        &["discount", "special offer", "new shares", "subscribe", "our website", "thank you for your support", "price"],
        "A recall message holds nothing that promotes (7.49(c)(2), from memory): leave that out.",
    ),
    (&["don't worry", "do not worry", "don’t worry", "no need to panic", "as a precaution only"], "Do not talk it down: leave that out."),
];

/// The longest text message that is still likely to arrive as one: ten parts of 153 letters (3GPP TS 23.040, from memory).
const LONGEST_TEXT: usize = 1530;

/// What there is to say about a wording: what is missing, and what has no place in it. It can be kept all the same, because the
/// farm speaks for itself; only naming somebody is refused.
#[must_use]
pub fn looked_over(way: &str, words: &str, names: &[String]) -> Vec<Remark> {
    let low = words.to_lowercase();
    let has = |any: &&[&str]| any.iter().any(|word| low.contains(word));
    let mut remarks: Vec<Remark> =
        NEEDED.iter().filter(|(groups, _)| !groups.iter().all(has)).map(|(_, says)| Remark::question("says", says, None)).collect();
    if matches!(way, "e-mail" | "door sheet" | "text") && !low.contains("urgent") && way != "e-mail" {
        remarks.push(Remark::question("says", "Mark it urgent (7.49(b)).", None));
    }
    remarks.extend(UNWANTED.iter().filter(|(any, _)| has(any)).map(|(_, says)| Remark::question("says", says, None)));
    if way == "text" && words.chars().count() > LONGEST_TEXT {
        let says = format!("This is {} letters long; a text of more than {LONGEST_TEXT} may arrive in pieces.", words.chars().count());
        remarks.push(Remark::question("says", says, None));
    }
    let named: Vec<&str> = names.iter().map(String::as_str).filter(|name| is_named(&low, name)).collect();
    if !named.is_empty() {
        remarks
            .push(Remark::fault("says", format!("Name no household: “{}” stands in it. Everybody gets these words.", named.join("”, “"))));
    }
    remarks
}

/// Whether a household's whole name, or its last word when that is a name of some length, stands in a text.
fn is_named(low: &str, name: &str) -> bool {
    let name = name.to_lowercase();
    let last = name.split_whitespace().last().unwrap_or_default();
    let is_word = |word: &str| low.split(|c: char| !(c.is_alphanumeric() || c == '-')).any(|own| own == word);
    name.chars().count() > 3 && low.contains(&name) || (last.chars().count() > 4 && !["family", "house"].contains(&last) && is_word(last))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::kinds::{BECAUSE, WORDED};

    /// Source: 21 CFR 7.49(a), (b) and (c), as far as marked at the head of this chapter.
    #[test]
    fn the_words_offered_hold_all_that_is_asked_and_nothing_else() {
        for way in WORDED {
            for because in BECAUSE {
                let words = offered(way, because);
                assert_eq!(looked_over(way, &words, &["Orla Tremont".to_owned()]), [], "{way}, {because}");
                assert!(words.chars().count() < 1500, "{way}: {}", words.chars().count());
            }
        }
    }

    #[test]
    fn each_thing_left_out_is_missed_and_each_thing_too_much_is_told() {
        let words = offered("call script", "illness");
        for (gone, says) in [
            ("(recalling)", "7.49(a)(1)"),
            ("[lots]", "7.49(c)(1)(ii)"),
            ("Do not drink it, and", "7.49(a)(2)"),
            ("Keep the jars cold, closed and unwashed.", "7.49(a)(4)"),
            ("[phone]", "7.49(c)(1)(v)"),
        ] {
            let remarks = looked_over("call script", &words.replace(gone, ""), &[]);
            assert!(remarks.iter().any(|own| own.says.contains(says)), "{gone}: {remarks:?}");
        }
        let more = |added: &str| {
            looked_over("call script", &format!("{words} {added}"), &["Orla Tremont".to_owned(), "The Lee family".to_owned()])
        };
        assert!(more("The rest is safe to drink.")[0].says.contains("safe"));
        assert!(more("It made them ill.")[0].says.contains("cause"));
        assert!(more("New shares at half price!")[0].says.contains("promotes"));
        let named = more("Tremont's children have it.");
        assert!(named[0].question.is_none() && named[0].says.contains("Orla Tremont"), "a name is no question: {named:?}");
        assert!(more("Ask your family.").is_empty());
    }

    #[test]
    fn blanks_are_filled_for_each_household() {
        let with =
            Filling { lots: vec!["6227A-8".to_owned(), "6227B-6".to_owned()], farm: "Tansyditch Farm".to_owned(), ..Filling::default() };
        let said = filled(&offered("call script", "illness"), &with);
        assert!(said.contains("jars marked 6227A-8, 6227B-6.") && said.contains("at the number you know"), "{said}");
        assert!(!said.contains('['), "{said}");
    }
}
