//! What is tried of a mail account, and what was found.
//!
//! Never here: trying; what to do about it (`remedy`).

/// One thing that is tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// The password can be had and the settings can be used.
    Settings,
    /// The mailbox can be read.
    Mailbox,
    /// Mail goes out.
    Sending,
    /// A mail to an address with a token comes into the mailbox, with the token.
    PlusAddress,
    /// This machine and the mail server agree about the time.
    Clock,
    /// A mail to a clinician goes out.
    Clinician,
    /// The clinician's answer comes back, with its token.
    Answer,
}

/// How a step ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// It works.
    Works,
    /// It does not.
    Fails,
    /// It was not tried, since something before it does not work.
    NotTried,
}

/// What was found at one step.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// Which step.
    pub step: Step,
    /// How it ended.
    pub ending: Ending,
    /// What was found.
    pub fact: String,
    /// What to do, where it does not work.
    pub remedy: Option<String>,
}

impl Step {
    /// All steps, in order.
    pub const ALL: [Self; 7] = [
        Self::Settings,
        Self::Mailbox,
        Self::Sending,
        Self::PlusAddress,
        Self::Clock,
        Self::Clinician,
        Self::Answer,
    ];

    /// The step in a word or two.
    pub fn name(self) -> &'static str {
        match self {
            Self::Settings => "settings",
            Self::Mailbox => "mailbox",
            Self::Sending => "mail out",
            Self::PlusAddress => "plus address",
            Self::Clock => "clock",
            Self::Clinician => "trial mail",
            Self::Answer => "answer",
        }
    }
}
