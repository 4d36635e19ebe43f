//! One-time links and sessions: who is signed in, and for how long.
//!
//! Never here: cookies, mail, roles.
//! Promises: a link signs in once, within its time; of link and session only hashes are kept, in
//! the memory of this process; a session ends when nobody uses it, and after a working day anyhow.

use std::collections::HashMap;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use sha2::{Digest as _, Sha256};

use crate::care::ClinicianId;

/// How long a link may wait in somebody's mail (common practice, no source).
pub(super) const LINK_LIVES: Duration = Duration::from_secs(15 * 60);
/// How long a session lasts at most: a working day (common practice, no source).
const SESSION_LIVES: Duration = Duration::from_secs(8 * 3600);
/// How long a session lasts when nobody uses it (common practice, no source).
const SESSION_IDLES: Duration = Duration::from_secs(30 * 60);
/// Links and sessions that one person may have at once; the oldest goes.
const EACH_MAX: usize = 5;

/// A secret of 256 random bits, as it stands in a link or a cookie.
#[derive(Clone)]
pub(super) struct Secret(String);

type Hash = [u8; 32];

/// All links and sessions of a board.
#[derive(Default)]
pub(super) struct Passes {
    kept: Mutex<Kept>,
}

#[derive(Default)]
struct Kept {
    links: HashMap<Hash, Link>,
    sessions: HashMap<Hash, Stay>,
}

struct Link {
    who: ClinicianId,
    made: Instant,
}

struct Stay {
    who: ClinicianId,
    began: Instant,
    used: Instant,
    form_key: String,
    news: Option<News>,
}

/// A session that holds.
#[derive(Clone)]
pub(super) struct Session {
    /// Whose it is.
    pub(super) who: ClinicianId,
    /// What every form of this session carries.
    pub(super) form_key: String,
    id: Hash,
}

/// What an act led to, told once, on the page that is shown next.
#[derive(Clone, Debug, Default)]
pub(super) struct News {
    /// What was done.
    pub(super) what: String,
    /// What followed from it.
    pub(super) followed: Vec<String>,
    /// Whether it changed nothing.
    pub(super) is_refused: bool,
}

/// How the use of a session counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Use {
    /// A person did something.
    ByPerson,
    /// The page looked for news by itself.
    ByPage,
}

impl Secret {
    /// A new secret.
    ///
    /// # Errors
    /// When the machine gives no random bits.
    pub(super) fn new() -> Result<Self, getrandom::Error> {
        let mut bits = [0; 32];
        getrandom::fill(&mut bits)?;
        Ok(Self(URL_SAFE_NO_PAD.encode(bits)))
    }

    pub(super) fn as_str(&self) -> &str {
        &self.0
    }
}

impl Session {
    /// Whether a form carries the key of this session. Compared as hashes, so that the time that it
    /// takes tells nothing about the key.
    pub(super) fn is_form_key(&self, sent: &str) -> bool {
        hashed(sent) == hashed(&self.form_key)
    }
}

impl Passes {
    /// Makes a link for somebody.
    ///
    /// # Errors
    /// When the machine gives no random bits.
    pub(super) fn link(&self, who: &ClinicianId, now: Instant) -> Result<Secret, getrandom::Error> {
        let secret = Secret::new()?;
        let mut kept = self.kept(now);
        make_room(&mut kept.links, |link| (link.who == *who).then_some(link.made));
        kept.links.insert(hashed(secret.as_str()), Link { who: who.clone(), made: now });
        Ok(secret)
    }

    /// Whether a link would sign somebody in. Looking does not use it up.
    pub(super) fn is_good(&self, link: &str, now: Instant) -> bool {
        self.kept(now).links.contains_key(&hashed(link))
    }

    /// Uses a link up and begins a session.
    ///
    /// # Errors
    /// When the machine gives no random bits; the link then holds.
    pub(super) fn enter(
        &self,
        link: &str,
        now: Instant,
    ) -> Result<Option<(ClinicianId, Secret)>, getrandom::Error> {
        let (secret, form_key) = (Secret::new()?, Secret::new()?);
        let mut kept = self.kept(now);
        let Some(Link { who, .. }) = kept.links.remove(&hashed(link)) else { return Ok(None) };
        make_room(&mut kept.sessions, |stay| (stay.who == who).then_some(stay.used));
        let stay =
            Stay { who: who.clone(), began: now, used: now, form_key: form_key.0, news: None };
        kept.sessions.insert(hashed(secret.as_str()), stay);
        Ok(Some((who, secret)))
    }

    /// The session of a cookie, where it holds.
    pub(super) fn session(&self, cookie: &str, how: Use, now: Instant) -> Option<Session> {
        let id = hashed(cookie);
        let mut kept = self.kept(now);
        let stay = kept.sessions.get_mut(&id)?;
        if how == Use::ByPerson {
            stay.used = now;
        }
        Some(Session { who: stay.who.clone(), form_key: stay.form_key.clone(), id })
    }

    /// Whether a session still holds.
    pub(super) fn holds(&self, session: &Session, now: Instant) -> bool {
        self.kept(now).sessions.contains_key(&session.id)
    }

    /// Ends a session.
    pub(super) fn leave(&self, session: &Session, now: Instant) {
        self.kept(now).sessions.remove(&session.id);
    }

    /// Keeps news for the next page of a session.
    pub(super) fn put_news(&self, session: &Session, news: News, now: Instant) {
        if let Some(stay) = self.kept(now).sessions.get_mut(&session.id) {
            stay.news = Some(news);
        }
    }

    /// Takes the news for this page.
    pub(super) fn take_news(&self, session: &Session, now: Instant) -> Option<News> {
        self.kept(now).sessions.get_mut(&session.id)?.news.take()
    }

    /// All that still holds.
    fn kept(&self, now: Instant) -> MutexGuard<'_, Kept> {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.links.retain(|_, link| now - link.made < LINK_LIVES);
        kept.sessions
            .retain(|_, stay| now - stay.began < SESSION_LIVES && now - stay.used < SESSION_IDLES);
        kept
    }
}

fn hashed(secret: &str) -> Hash {
    Sha256::digest(secret.as_bytes()).into()
}

/// Takes the oldest of one person's away where they have as many as they may.
fn make_room<T>(all: &mut HashMap<Hash, T>, since: impl Fn(&T) -> Option<Instant>) {
    let theirs = || all.iter().filter_map(|(id, kept)| Some((since(kept)?, *id)));
    let oldest = (theirs().count() >= EACH_MAX).then(|| theirs().min()).flatten();
    if let Some((_, id)) = oldest {
        all.remove(&id);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn person() -> ClinicianId {
        ClinicianId::new("seating").expect("OK because it is an id")
    }

    #[test]
    fn a_link_signs_in_once_and_not_after_its_time() {
        let (passes, now) = (Passes::default(), Instant::now());
        let link = passes.link(&person(), now).unwrap();
        assert!(passes.is_good(link.as_str(), now));
        assert!(passes.enter(link.as_str(), now).unwrap().is_some());
        assert!(passes.enter(link.as_str(), now).unwrap().is_none());
        let late = passes.link(&person(), now).unwrap();
        assert!(passes.enter(late.as_str(), now + LINK_LIVES).unwrap().is_none());
    }

    #[test]
    fn a_session_ends_unused_and_after_a_working_day_and_is_not_kept_alive_by_the_page_itself() {
        let (passes, start) = (Passes::default(), Instant::now());
        let enter = || {
            let link = passes.link(&person(), start).unwrap();
            passes.enter(link.as_str(), start).unwrap().unwrap().1
        };
        let minutes = |n: u64| start + Duration::from_secs(60 * n);
        let (used, watched) = (enter(), enter());
        for at in (0..480).step_by(20) {
            let session = passes.session(used.as_str(), Use::ByPerson, minutes(at));
            assert!(session.is_some(), "after {at} minutes");
            let session = passes.session(watched.as_str(), Use::ByPage, minutes(at));
            assert_eq!(session.is_some(), at < 30, "after {at} minutes");
        }
        assert!(passes.session(used.as_str(), Use::ByPerson, minutes(480)).is_none());
    }

    #[test]
    fn somebody_who_asks_often_keeps_the_newest_links() {
        let (passes, now) = (Passes::default(), Instant::now());
        let at = |n: u64| now + Duration::from_secs(n);
        let links: Vec<Secret> = (0..7).map(|n| passes.link(&person(), at(n)).unwrap()).collect();
        let good: Vec<bool> =
            links.iter().map(|link| passes.is_good(link.as_str(), at(7))).collect();
        assert_eq!(good, [false, false, true, true, true, true, true]);
    }
}
