//! The ideas that a reply is made of: what each word or phrase of a language file stands for.
//!
//! Never here: words of any language.
//! Promises: the names are those of the `[say]` table of every language file.

/// Declares the concepts once, with the names that language files use.
macro_rules! concepts {
    ($($(#[$doc:meta])* $concept:ident = $name:literal,)*) => {
        /// One idea.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        #[repr(u8)]
        pub(crate) enum Concept {
            $($(#[$doc])* $concept,)*
        }

        impl Concept {
            /// Every concept with its name in language files.
            pub(crate) const NAMED: &[(&str, Concept)] = &[$(($name, Concept::$concept),)*];
        }
    };
}

concepts! {
    /// A noun for redness or another colour change: mark, patch, erythema.
    Mark = "mark",
    /// An adjective of colour change: red, darker.
    Colour = "colour",
    /// Warmth.
    Warm = "warm",
    /// A sign that needs review at once, whatever stands beside it: blister, pus.
    Alarm = "alarm",
    /// A word that is alarming of skin, but not of a chair or the weather: hot, open, black.
    AlarmOfSkin = "alarm-of-skin",
    /// Pain.
    Pain = "pain",
    /// Fever or feeling ill: alarming, unless it only tells why there was no sitting.
    Fever = "fever",
    /// Whole-body signs that are alarming in themselves: chills, confusion, a pounding headache,
    /// rising blood pressure.
    Ill = "ill",
    /// Somebody who helps, whose own illness is not the client's: carer, nurse.
    Helper = "helper",
    /// A time before this check and its day: last week, months ago.
    LongAgo = "long-ago",
    /// Going pale when pressed.
    Pale = "pale",
    /// Not going pale when pressed, as one term.
    NonBlanching = "non-blanching",
    /// Pressing on the skin.
    Press = "press",
    /// Whole skin: intact, closed.
    Whole = "whole",
    /// Something seen, but not named: something, a funny look.
    Vague = "vague",
    /// Dye, felt-tip, jam: what only looks like a mark.
    Stain = "stain",
    /// The person's own skin colour.
    Complexion = "complexion",
    /// Things that are not skin: chair, weather, trousers.
    Thing = "thing",
    /// A phrase to be passed over, whatever its words mean alone.
    Neutral = "neutral",
    /// A person: she, mum, the carer.
    Person = "person",
    /// A pronoun or phrase that opens a new statement: he, there is, it is.
    Subject = "subject",
    /// It, that, they: a mark or the skin as spoken of before.
    It = "it",
    /// Skin, body.
    Skin = "skin",
    /// All, everywhere.
    All = "all",
    /// Fine, good, normal.
    Normal = "normal",
    /// Clear, spotless, 'no marks' as one term.
    Clear = "clear",
    /// 'Nothing to see', 'no skin changes': calm in itself, whatever denies it.
    ClearOfMarks = "clear-of-marks",
    /// Nothing, none: both a finding and a negation.
    Nothing = "nothing",
    /// To see, find, notice.
    See = "see",
    /// There, visible, present.
    There = "there",
    /// There is: something exists.
    Exists = "exists",
    /// Anything, a thing.
    Anything = "anything",
    /// To feel: of a person, not of the skin.
    Feels = "feels",
    /// Gone, faded, cleared.
    Gone = "gone",
    /// Gone as an adverb: no longer, any more.
    NoMore = "no-more",
    /// Nearly, mostly, half.
    Partly = "partly",
    /// Fading, fainter, less.
    Fading = "fading",
    /// Still.
    Still = "still",
    /// Still there, persists: complete in itself.
    Lasts = "lasts",
    /// Since an earlier time, of whatever is spoken of: since yesterday, for days.
    Since = "since",
    /// Came back.
    Returned = "returned",
    /// Bigger, worse, spread.
    Worse = "worse",
    /// The same, no change.
    Same = "same",
    /// To change, move, shift: said of a mark with 'not'.
    Change = "change",
    /// For so long: been, lasted.
    Lasted = "lasted",
    /// Not: negates what follows.
    Not = "not",
    /// No: negates a noun, or answers.
    No = "no",
    /// It cannot be told: not sure, cannot tell.
    Doubt = "doubt",
    /// A doubt about what it means, not whether it is there: not sure if it counts.
    Wonder = "wonder",
    /// Yet, so far.
    Yet = "yet",
    /// Was, at first, earlier.
    Past = "past",
    /// Now, today, again.
    Now = "now",
    /// Today, this time: now, but in contrast to other days, not to a moment before.
    Today = "today",
    /// Is, has, there is: said of the present.
    Present = "present",
    /// Will, going to, should be.
    Will = "will",
    /// If, unless, once.
    If = "if",
    /// As always, as usual.
    Usual = "usual",
    /// Might, maybe.
    Maybe = "maybe",
    /// I think.
    Think = "think",
    /// Thought, assumed: a belief since given up.
    Believed = "believed",
    /// Was expecting, was dreading: what follows was not found but awaited.
    Awaited = "awaited",
    /// Somebody says.
    Says = "says",
    /// A word that opens a question.
    Ask = "ask",
    /// A word that can only open a question.
    Wh = "wh",
    /// But, although.
    But = "but",
    /// Except, apart from.
    Except = "except",
    /// Only, just.
    Only = "only",
    /// And.
    And = "and",
    /// Or, nor.
    Or = "or",
    /// Because, so, when: opens a side clause.
    Because = "because",
    /// Sorry I mean.
    Mean = "mean",
    /// Not very, not too: something is there, but less; of calm, that it is not.
    NotVery = "not-very",
    /// A, some, a bit of: opens a new noun.
    Article = "article",
    /// The, his, her: opens a statement after an answer.
    Definite = "definite",
    /// To look, check, inspect.
    Look = "look",
    /// When, where what follows may be a condition.
    When = "when",
    /// Somebody else says that it is so.
    Reported = "reported",
    /// A look is planned.
    PlanLook = "plan-look",
    /// To look for, to feel for: what follows is sought, not found.
    LookFor = "look-for",
    /// No look was made, complete in itself: forgot, refused.
    NotLooked = "not-looked",
    /// A reason why not or not yet, which alone says little: asleep, later.
    NotNow = "not-now",
    /// A reason why nothing could be made out: no mirror, too dark.
    NoView = "no-view",
    /// A look at part of the skin only.
    PartLook = "part-look",
    /// Sitting, seat, chair.
    Sit = "sit",
    /// In the chair.
    InSeat = "in-seat",
    /// Started, began.
    Begin = "begin",
    /// No sitting took place, complete in itself: stayed in bed.
    NoSitting = "no-sitting",
    /// A reason why there is no sitting, which alone says little.
    NoSitReason = "no-sit-reason",
    /// Cancelled, missed, put off: the look or the sitting, whichever is spoken of or asked about.
    Undone = "undone",
    /// Not working: of a chair or a hoist.
    OutOfOrder = "out-of-order",
    /// In, after, within: minutes may follow without their unit.
    Within = "within",
    /// Off the seat, got out, hoisted back.
    OffSeat = "off-seat",
    /// Than, unlike: what follows is what something is compared with.
    Versus = "versus",
    /// The left side.
    Left = "left",
    /// The right side.
    Right = "right",
    /// Both sides.
    Both = "both",
    /// The other one.
    Other = "other",
    /// A word that makes 'right' an adverb: under, at, on.
    Preposition = "preposition",
    /// At, by, since: a clock time may follow.
    AtTime = "at-time",
    /// Until, instead of, before: a time that is not the look's.
    NotAtTime = "not-at-time",
    /// Yes.
    Yes = "yes",
    /// Thanks, kisses, laughter: says nothing.
    Pleasantry = "pleasantry",
    /// Okay, thumbs up.
    Okay = "okay",
    /// Seen, read, acknowledged.
    Seen = "seen",
    /// Will act: on my way, will ring.
    Act = "act",
    /// Resume, restart.
    Resume = "resume",
    /// May, okay to: before sitting, a permission.
    Allow = "allow",
    /// Keep stopped, hold, bed rest.
    Stop = "stop",
    /// Close, discharge: needs a follow-up beside it.
    Close = "close",
    /// The follow-up, the file, the checks.
    FollowUp = "follow-up",
    /// Close the follow-up, complete in itself.
    CloseAll = "close-all",
    /// The client has died: closes the follow-up, unless it is said of a relative.
    Died = "died",
    /// Wife, son, carer: a person who is not the client.
    Relative = "relative",
    /// Step, level.
    StepWord = "step",
    /// A phrase that no person writes in an answer.
    Automatic = "automatic",
    /// A phrase that machines often write.
    PerhapsAutomatic = "perhaps-automatic",
    /// Minutes.
    MinuteUnit = "minutes",
    /// Hours.
    HourUnit = "hours",
    /// Other units: a number before them is no time.
    OtherUnit = "other-units",
}

/// A set of concepts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Concepts(u128);

impl Concepts {
    /// The set with one concept.
    pub(crate) fn of(concept: Concept) -> Self {
        Self(1 << concept as u8)
    }

    /// Whether the concept is in the set.
    #[inline]
    pub(crate) fn has(self, concept: Concept) -> bool {
        self.0 & (1 << concept as u8) != 0
    }

    /// Whether any of the concepts is in the set.
    #[inline]
    pub(crate) fn any(self, concepts: &[Concept]) -> bool {
        // Without a branch, so that a list that is written out becomes one number.
        self.0 & concepts.iter().fold(0, |all, c| all | 1 << *c as u8) != 0
    }

    /// Whether it holds something, and nothing but what the other holds.
    pub(crate) fn is_within(self, other: Self) -> bool {
        !self.is_empty() && self.0 & !other.0 == 0
    }

    /// All of them.
    pub(crate) fn all_of(concepts: &[Concept]) -> Self {
        concepts.iter().fold(Self::default(), |all, concept| all.with(Self::of(*concept)))
    }

    /// Both sets together.
    pub(crate) fn with(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether nothing is in it.
    pub(crate) fn is_empty(self) -> bool {
        self.0 == 0
    }
}
