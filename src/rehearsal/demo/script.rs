//! Who says what when: how the people of the demonstration answer the mails they get.
//!
//! Never here: reading and writing mail.
//! Promises: people answer what they find in their own mailbox, as they would; they know nothing
//! of the service.

use std::ops::RangeInclusive;

/// What a mail wants, as its reader sees from the subject.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Wants {
    /// A sitting starts.
    Sitting,
    /// A look after or during a sitting.
    Look,
    /// A second look at a mark.
    Recheck,
    /// A look at a time of day.
    Routine,
    /// The answer once more, in other words.
    OnceMore,
    /// An alert to take up or to decide.
    Alert,
    /// Nothing to answer.
    Nothing,
}

impl Wants {
    /// What a mail with this subject wants, in English or Spanish.
    pub(super) fn by_subject(subject: &str) -> Self {
        const BEGINNINGS: [(&str, Wants); 16] = [
            ("Sitting starts", Wants::Sitting),
            ("Please look again", Wants::Recheck),
            ("Please look at the skin", Wants::Look),
            ("Still waiting: please look", Wants::Look),
            ("Skin check (", Wants::Routine),
            ("Please answer once more", Wants::OnceMore),
            ("Empieza la sesión", Wants::Sitting),
            ("Mire otra vez", Wants::Recheck),
            ("Mire la piel", Wants::Look),
            ("Seguimos esperando: mire", Wants::Look),
            ("Revisión de la piel (", Wants::Routine),
            ("Responda otra vez", Wants::OnceMore),
            ("STOP:", Wants::Alert),
            ("Again:", Wants::Alert),
            ("Passed to you:", Wants::Alert),
            ("Not decided:", Wants::Alert),
        ];
        let found = BEGINNINGS.iter().find(|(beginning, _)| subject.starts_with(beginning));
        found.map_or(Self::Nothing, |(_, wants)| *wants)
    }
}

/// What somebody does about a mail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Does {
    /// Writes back in their own words.
    Writes(&'static str),
    /// Taps the answer whose button begins like this.
    Taps(&'static str),
    /// Does not answer.
    Nothing,
}

/// What somebody does about a kind of mail on certain days.
struct Scene {
    who: &'static str,
    days: RangeInclusive<u32>,
    wants: Wants,
    /// Which of these mails on that day, counted from 1; none: each of them.
    nth: Option<u32>,
    after_minutes: i64,
    does: Does,
}

const fn scene(
    who: &'static str,
    days: RangeInclusive<u32>,
    wants: Wants,
    after_minutes: i64,
    does: Does,
) -> Scene {
    Scene { who, days, wants, nth: None, after_minutes, does }
}

/// The days on which somebody does not do as every day. The first that fits counts.
const SCENES: [Scene; 30] = [
    // Ada builds up cleanly. Once the sitting begins late.
    scene(
        ROBIN,
        3..=3,
        Wants::Sitting,
        14,
        Does::Writes("Started at 10:12, sorry, the bus was late."),
    ),
    scene(
        ROBIN,
        6..=6,
        Wants::Look,
        5,
        Does::Writes("Fine. No redness, not warm, nothing to see."),
    ),
    // Ben has marks that fade more slowly each day from the fourth on, and one that fades in time
    // later on.
    scene(
        JO,
        4..=4,
        Wants::Look,
        6,
        Does::Writes(
            "There is a darker patch on his left sit bone, a bit warm. The skin is whole.",
        ),
    ),
    scene(JO, 4..=4, Wants::Recheck, 3, Does::Writes("Gone now. It took about 16 minutes.")),
    scene(
        JO,
        5..=5,
        Wants::Look,
        4,
        Does::Writes("A patch on the left sit bone, darker than the skin around it."),
    ),
    scene(JO, 5..=5, Wants::Recheck, 5, Does::Writes("Gone after 20 minutes.")),
    scene(
        JO,
        6..=6,
        Wants::Look,
        5,
        Does::Writes("A darker patch on the left sit bone again, skin whole."),
    ),
    scene(JO, 6..=6, Wants::Recheck, 3, Does::Writes("It has gone, after 26 minutes.")),
    Scene {
        who: JO,
        days: 10..=10,
        wants: Wants::Look,
        nth: Some(1),
        after_minutes: 7,
        does: Does::Writes("There was a faint mark on the left sit bone, gone after 10 minutes."),
    },
    // Once his father is short of words: what cannot be read safely is asked again.
    scene(JO, 2..=2, Wants::Look, 6, Does::Writes("Same as yesterday.")),
    // Cleo's mother gets Spanish mail and writes Spanish.
    // On the fifth day there is a mark, and it persists.
    scene(
        MARIA,
        5..=5,
        Wants::Look,
        6,
        Does::Writes("Tiene una mancha más oscura en el isquion derecho. La piel está entera."),
    ),
    scene(
        MARIA,
        5..=5,
        Wants::Recheck,
        4,
        Does::Writes("Sigue ahí, lo siento. Quizá un poco más clara, pero todavía la veo."),
    ),
    // The first clinician is away; the second takes the alert up, and decides the next morning.
    Scene {
        who: DUTY,
        days: 5..=5,
        wants: Wants::Alert,
        nth: Some(1),
        after_minutes: 9,
        does: Does::Writes("Seen, I will phone the family now."),
    },
    scene(
        DUTY,
        6..=6,
        Wants::Alert,
        75,
        Does::Writes("Visited this morning, the skin looks normal again. She may sit again."),
    ),
    // Eli's aunt finds a blister; the clinician takes the alert up and keeps him off the seat.
    scene(
        NOOR,
        10..=10,
        Wants::Look,
        7,
        Does::Writes("There is a blister on his left heel, and the skin around it is dark."),
    ),
    Scene {
        who: SEATING,
        days: 10..=10,
        wants: Wants::Alert,
        nth: Some(1),
        after_minutes: 6,
        does: Does::Writes("Seen. I am calling them now."),
    },
    Scene {
        who: SEATING,
        days: 11..=11,
        wants: Wants::Alert,
        nth: Some(1),
        after_minutes: 50,
        does: Does::Writes("Keep stopped until the heel has healed."),
    },
    // Fay's father sees a mark and is not heard of again; the clinician reaches him by telephone.
    Scene {
        who: LOU,
        days: 11..=11,
        wants: Wants::Look,
        nth: Some(1),
        after_minutes: 5,
        does: Does::Writes("A darker patch at the tailbone. The skin is not broken."),
    },
    scene(LOU, 11..=11, Wants::Recheck, 0, Does::Nothing),
    // Reminders of a second look read like those of a first.
    scene(LOU, 11..=11, Wants::Look, 0, Does::Nothing),
    Scene {
        who: SEATING,
        days: 11..=11,
        wants: Wants::Alert,
        nth: Some(2),
        after_minutes: 12,
        does: Does::Taps("Seen"),
    },
    scene(SEATING, 12..=12, Wants::Alert, 90, Does::Taps("Resume")),
    // Dev's brother does not answer on the third day; the neighbour looks.
    scene(SAM, 3..=3, Wants::Look, 0, Does::Nothing),
    scene(KIM, 3..=3, Wants::Look, 7, Does::Writes("Sam is out today, so I looked. No marks.")),
    // Then nobody answers, until Sam at last answers a mail of the day before.
    Scene {
        who: SAM,
        days: 5..=5,
        wants: Wants::Look,
        nth: Some(3),
        after_minutes: 26 * 60 + 10,
        does: Does::Writes(
            "Sorry for the silence, my phone was broken. I have just looked: no marks.",
        ),
    },
    scene(SAM, 4..=6, Wants::Look, 0, Does::Nothing),
    scene(SAM, 4..=6, Wants::Routine, 0, Does::Nothing),
    scene(KIM, 4..=6, Wants::Look, 0, Does::Nothing),
    scene(KIM, 4..=6, Wants::Routine, 0, Does::Nothing),
    scene(SEATING, 1..=12, Wants::Alert, 0, Does::Nothing),
];

const ROBIN: &str = "robin@home.example";
const JO: &str = "jo@house.example";
const MARIA: &str = "maria@casa.example";
const NOOR: &str = "noor@lane.example";
const LOU: &str = "lou@mill.example";
const SAM: &str = "sam@flat.example";
const KIM: &str = "kim@neighbour.example";
const SEATING: &str = "seating@riverside.example";
const DUTY: &str = "duty@riverside.example";

/// What people answer to a look on an ordinary day.
const EVERYDAY: [Does; 6] = [
    Does::Writes("All good, no marks at all."),
    Does::Taps("No marks"),
    Does::Writes("Looked just now, the skin looks as always. No marks."),
    Does::Writes("No marks today."),
    Does::Taps("No marks"),
    Does::Writes("Skin looks normal, no redness, not warm."),
];

/// The same of one who writes Spanish.
const EVERYDAY_IN_SPANISH: [Does; 4] = [
    Does::Writes("Todo bien, sin marcas."),
    Does::Taps("Sin marcas"),
    Does::Writes("Ninguna marca, la piel está como siempre."),
    Does::Writes("Acabo de mirar: sin marcas."),
];

/// A mail as the script sees it.
pub(super) struct Received<'m> {
    /// Whose mailbox it is in.
    pub(super) who: &'m str,
    /// On which day of the demonstration, counted from 1.
    pub(super) day: u32,
    /// What it wants.
    pub(super) wants: Wants,
    /// Which mail of its kind on that day, counted from 1.
    pub(super) nth: u32,
    /// How many mails this person has had before.
    pub(super) before: u32,
    /// A number of this person's own, so that not everybody says the same.
    pub(super) manner: u32,
}

/// What is done about a mail, and how many minutes later.
pub(super) fn about(mail: &Received<'_>) -> (i64, Does) {
    let scene = SCENES.iter().find(|scene| {
        scene.who == mail.who
            && scene.days.contains(&mail.day)
            && scene.wants == mail.wants
            && scene.nth.is_none_or(|nth| nth == mail.nth)
    });
    if let Some(scene) = scene {
        return (scene.after_minutes, scene.does);
    }
    match mail.wants {
        Wants::Look | Wants::Recheck | Wants::Routine => {
            let turn = mail.before + mail.manner;
            // Three to nine minutes: people are not machines.
            let after = 3 + i64::from(turn * 5 % 7);
            let everyday: &[Does] =
                if mail.who == MARIA { &EVERYDAY_IN_SPANISH } else { &EVERYDAY };
            (after, everyday[turn as usize % everyday.len()])
        }
        Wants::OnceMore => (4, Does::Taps("No marks")),
        Wants::Sitting | Wants::Alert | Wants::Nothing => (0, Does::Nothing),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_mail_wants_is_seen_from_its_subject() {
        let wants = |subject| Wants::by_subject(subject);
        assert_eq!(wants("Please look at the skin (10:15) · Skin checks: A7"), Wants::Look);
        assert_eq!(wants("Please look again (11:36) · Skin checks: C5"), Wants::Recheck);
        assert_eq!(wants("Again: STOP: a mark has lasted · Skin checks: C5"), Wants::Alert);
        assert_eq!(wants("Noted · Skin checks: A7"), Wants::Nothing);
    }

    #[test]
    fn an_exception_holds_on_its_days_and_every_other_day_is_an_ordinary_one() {
        let mail =
            |day| Received { who: JO, day, wants: Wants::Recheck, nth: 1, before: 1, manner: 0 };
        assert_eq!(about(&mail(4)), (3, Does::Writes("Gone now. It took about 16 minutes.")));
        assert_eq!(about(&mail(7)), (8, Does::Taps("No marks")));
    }
}
