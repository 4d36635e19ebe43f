//! Lines that part the writer's words from what mail programs add: header blocks, dividers,
//! signatures, device lines.
//!
//! Never here: the reading of words.
//! Promises: the names of header fields are those that common mail programs write in the languages
//! listed here; a line is judged with the lines after it, never by itself where it could be words.
use std::borrow::Cow;

/// Names of the fields of a quoted header block: sender, date, recipient, subject.
const FIELDS: [&[&str]; 4] = [
    &[
        "from",
        "von",
        "de",
        "da",
        "van",
        "fra",
        "från",
        "od",
        "expéditeur",
        "lähettäjä",
        "remitente",
        "от",
        "от кого",
    ],
    &[
        "sent",
        "date",
        "gesendet",
        "datum",
        "enviado",
        "enviado el",
        "fecha",
        "envoyé",
        "inviato",
        "data",
        "verzonden",
        "sendt",
        "skickat",
        "wysłano",
        "dato",
        "отправлено",
        "дата",
    ],
    &["to", "an", "para", "à", "a", "aan", "til", "till", "do", "pour", "destinataire", "кому"],
    &[
        "subject",
        "betreff",
        "asunto",
        "objet",
        "oggetto",
        "onderwerp",
        "emne",
        "ämne",
        "assunto",
        "temat",
        "тема",
    ],
];

/// A header block has its fields within so many lines.
const BLOCK_LINES_MAX: usize = 8;

/// What a quoted message begins with when a program says so.
const ORIGINAL: [&str; 10] = [
    "original message",
    "ursprüngliche nachricht",
    "originalnachricht",
    "mensaje original",
    "message d'origine",
    "message original",
    "messaggio originale",
    "oorspronkelijk bericht",
    "mensagem original",
    "original appointment",
];

/// What a forwarded message begins with.
const FORWARDED: [&str; 12] = [
    "forwarded message",
    "begin forwarded message",
    "weitergeleitete nachricht",
    "anfang der weitergeleiteten",
    "mensaje reenviado",
    "inicio del mensaje reenviado",
    "message transféré",
    "début du message transféré",
    "messaggio inoltrato",
    "doorgestuurd bericht",
    "mensagem encaminhada",
    "vidarebefordrat meddelande",
];

/// How lines begin that a device or program adds below the words.
const DEVICE: [&str; 22] = [
    "sent from my",
    "sent from a ",
    "sent from phone",
    "sent from mobile",
    "sent via ",
    "sent with ",
    "sent using ",
    "sent by my",
    "get the app",
    "gesendet von",
    "von meinem",
    "enviado desde",
    "enviado con",
    "enviado do meu",
    "envoyé de",
    "envoyé depuis",
    "inviato da",
    "verzonden vanaf",
    "verstuurd vanaf",
    "skickat från",
    "sendt fra",
    "please excuse my typing",
];

/// A line that a device adds has at most so many letters.
const DEVICE_CHARS_MAX: usize = 80;

/// Whether a quoted header block begins at this line.
pub(super) fn begins_header_block(lines: &[&str]) -> bool {
    let Some(first) = lines.first() else { return false };
    if !matches!(field_of(first), Some(0 | 1)) {
        return false;
    }
    // Where each field is a paragraph of HTML, blank lines stand between them.
    let block = lines.iter().filter(|line| !line.trim().is_empty()).take(BLOCK_LINES_MAX);
    let mut seen = [false; 4];
    for field in block.filter_map(|line| field_of(line)) {
        seen[field] = true;
    }
    seen.iter().filter(|s| **s).count() >= 3
}

fn field_of(line: &str) -> Option<usize> {
    let (name, _) = line.trim().trim_start_matches(['>', '*', ' ']).split_once(':')?;
    let name = name.trim().trim_end_matches('*').trim();
    FIELDS.iter().position(|names| names.iter().any(|known| is_in_any_case(name, known)))
}

/// Whether a text opens with a plain letter other than this one: so most lines are passed at once.
fn opens_otherwise(text: &str, lower: &str) -> bool {
    match (text.bytes().next(), lower.bytes().next()) {
        (Some(a), Some(b)) => a.is_ascii() && a.to_ascii_lowercase() != b,
        (a, b) => a != b,
    }
}

/// Whether a text is this one in lower case, in whatever case it is written.
fn is_in_any_case(text: &str, lower: &str) -> bool {
    if opens_otherwise(text, lower) {
        return false;
    }
    if text.is_ascii() {
        return text.eq_ignore_ascii_case(lower);
    }
    text.chars().flat_map(char::to_lowercase).eq(lower.chars())
}

/// Whether a text begins with this one in lower case, in whatever case it is written.
fn begins_in_any_case(text: &str, lower: &str) -> bool {
    if opens_otherwise(text, lower) {
        return false;
    }
    let mut letters = text.chars().flat_map(char::to_lowercase);
    lower.chars().all(|letter| letters.next() == Some(letter))
}

/// Whether a line says that an original message follows.
pub(super) fn says_original(line: &str) -> bool {
    dashed(line).is_some_and(|inner| ORIGINAL.iter().any(|text| inner.contains(text)))
        || is_reply_line(line)
}

/// 'Please type your reply above this line': what follows is the message that is answered.
fn is_reply_line(line: &str) -> bool {
    const ABOVE: [&str; 4] = [
        "above this line",
        "oberhalb dieser zeile",
        "encima de esta línea",
        "au-dessus de cette ligne",
    ];
    if !line.trim().starts_with(['#', '-', '=', '*', '_']) {
        return false;
    }
    let plain = line.to_lowercase();
    ABOVE.iter().any(|text| plain.contains(text))
}

/// Whether a line says that a forwarded message follows.
pub(super) fn says_forwarded(line: &str) -> bool {
    let bare = line.trim().trim_end_matches(':');
    dashed(line).is_some_and(|inner| FORWARDED.iter().any(|text| inner.contains(text)))
        || FORWARDED.iter().any(|text| is_in_any_case(bare, text))
}

/// The words between two runs of dashes.
fn dashed(line: &str) -> Option<String> {
    let trimmed = line.trim();
    if !["--", "__", "=="].iter().any(|dashes| trimmed.starts_with(dashes)) {
        return None;
    }
    let inner = trimmed.trim_matches(['-', '_', '=', ' ']);
    (!inner.is_empty()).then(|| inner.to_lowercase())
}

/// Whether a line is a rule of one sign.
pub(super) fn is_rule(line: &str) -> bool {
    let trimmed = line.trim();
    let Some(first) = trimmed.chars().next() else { return false };
    matches!(first, '*' | '_' | '-' | '=' | '#' | '~')
        && trimmed.chars().count() >= 8
        && trimmed.chars().all(|c| c == first)
}

/// Whether a line opens a signature (RFC 3676, section 4.3).
pub(super) fn opens_signature(line: &str) -> bool {
    line == "-- " || line == "--" || line == "--\u{a0}"
}

/// Whether a device or program wrote the line.
pub(super) fn is_device_line(line: &str) -> bool {
    let bare = line.trim().trim_start_matches(['*', '_', '(']);
    DEVICE.iter().any(|start| begins_in_any_case(bare, start))
        && bare.chars().flat_map(char::to_lowercase).count() <= DEVICE_CHARS_MAX
}

/// Words of which a legal footer has at least two.
const LEGAL: [&str; 25] = [
    "confidential",
    "privileged",
    "intended recipient",
    "addressee",
    "addressed only",
    "disclaimer",
    "virus",
    "unauthorised",
    "unauthorized",
    "delete it",
    "legally",
    "opinions",
    "vertraulich",
    "empfänger",
    "adressat",
    "löschen sie",
    "vernichten sie",
    "confidencial",
    "destinatario",
    "confidentiel",
    "destinataire",
    "riservat",
    "data protection",
    "before printing",
    "registered in",
];

/// What the footer says that a mailing list puts below everybody's mail.
const LIST: [&str; 8] = [
    "mailing list",
    "unsubscribe",
    "mailingliste",
    "verteiler",
    "abmelden",
    "lista de correo",
    "darse de baja",
    "désabonner",
];

/// Whether a paragraph below a rule is the footer of a mailing list.
pub(super) fn is_list_footer(paragraph: &str) -> bool {
    let plain = paragraph.to_lowercase();
    LIST.iter().any(|words| plain.contains(words))
}

/// How a banner begins that a mail server puts above mail from outside.
const BANNER_OPENERS: [&str; 8] =
    ["caution", "warning", "external", "[external", "achtung", "extern", "atención", "attention"];

/// Words of which such a banner has at least two.
const BANNER: [&str; 14] = [
    "external",
    "outside",
    "attachment",
    "link",
    "sender",
    "recogni",
    "extern",
    "anhäng",
    "absender",
    "adjunto",
    "enlace",
    "remitente",
    "pièces jointes",
    "expéditeur",
];

/// Whether a paragraph is a warning of mail from outside.
pub(super) fn is_banner(lines: &[Cow<'_, str>]) -> bool {
    let Some(first) = lines.first() else { return false };
    let first = first.trim_start_matches(['*', '-', '[', ' ']).to_lowercase();
    let plain = || lines.join(" ").to_lowercase();
    let warns = |plain: String| BANNER.iter().filter(|word| plain.contains(*word)).count() >= 2;
    BANNER_OPENERS.iter().any(|start| first.starts_with(start)) && warns(plain())
}

/// The line without what a program puts there for a picture: `[image: heel.jpg]`, `[cid:1@x]`.
pub(super) fn without_pictures(line: &str) -> Cow<'_, str> {
    if !line.contains('[') {
        return Cow::Borrowed(line);
    }
    let mut out = String::with_capacity(line.len());
    let mut rest = line;
    while let Some((before, after)) = rest.split_once('[') {
        out.push_str(before);
        match after.split_once(']') {
            Some((inner, behind)) if is_picture(inner) => rest = behind,
            _ => {
                out.push('[');
                rest = after;
            }
        }
    }
    out.push_str(rest);
    Cow::Owned(out)
}

fn is_picture(inner: &str) -> bool {
    let plain = inner.trim().to_lowercase();
    ["image", "cid:", "inline image", "bild", "imagen", "photo", "foto", "picture", "attachment"]
        .iter()
        .any(|start| plain.starts_with(start))
        && (plain.contains([':', '.']) || !plain.contains(' '))
}
/// A legal footer has at least so many of them.
const LEGAL_WORDS_MIN: usize = 2;

/// How the first line of a legal footer begins.
const LEGAL_OPENERS: [&str; 18] = [
    "this e-mail",
    "this email",
    "this message",
    "this communication",
    "the information",
    "the contents",
    "the content of",
    "disclaimer",
    "confidential",
    "diese e-mail",
    "diese nachricht",
    "este mensaje",
    "este correo",
    "la información",
    "ce message",
    "ce courriel",
    "cet e-mail",
    "les informations",
];

/// At which line of a paragraph a legal footer begins; the number of lines where there is none.
/// What is said above it stays, with or without a blank line between.
pub(super) fn legal_footer_at(lines: &[&str]) -> usize {
    let mut plain = String::new();
    let mut begins_at = Vec::with_capacity(lines.len());
    for (n, line) in lines.iter().enumerate() {
        plain.push_str(if n > 0 { " " } else { "" });
        begins_at.push(plain.len());
        push_lower(&mut plain, line.trim());
    }
    if LEGAL.iter().filter(|word| plain.contains(*word)).count() < LEGAL_WORDS_MIN {
        return lines.len();
    }
    // Only where each word stands last counts: a footer holds all that follows its first line.
    let last: Vec<usize> = LEGAL.iter().filter_map(|word| plain.rfind(word)).collect();
    let line_of = |n: usize| {
        let end = begins_at.get(n + 1).map_or(plain.len(), |next| next - 1);
        &plain[begins_at[n]..end]
    };
    let legal = |n: usize| last.iter().filter(|at| **at >= begins_at[n]).count() >= LEGAL_WORDS_MIN;
    let begins = |n: &usize| LEGAL_OPENERS.iter().any(|start| line_of(*n).starts_with(start));
    let speaks = |n: &usize| LEGAL.iter().any(|word| line_of(*n).contains(word));
    let whole = || (0..lines.len()).take_while(|n| legal(*n));
    whole().find(begins).or_else(|| whole().find(speaks)).unwrap_or(lines.len())
}

/// Adds a text in lower case.
fn push_lower(out: &mut String, text: &str) {
    if text.is_ascii() {
        let from = out.len();
        out.push_str(text);
        out[from..].make_ascii_lowercase();
    } else {
        out.push_str(&text.to_lowercase());
    }
}

/// Whether a paragraph is a legal footer.
pub(super) fn is_legal_footer(paragraph: &str) -> bool {
    let mut plain = String::new();
    push_lower(&mut plain, paragraph);
    LEGAL.iter().filter(|word| plain.contains(*word)).count() >= LEGAL_WORDS_MIN
}
