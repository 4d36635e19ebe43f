//! What the service shows to a mail server to be let in.
//!
//! Never here: where secrets come from, files, commands.
//! Promises: a secret never shows in `Debug`; a replaced secret is used from the next login on,
//! in every copy of the credentials.

use std::fmt;
use std::sync::{Arc, PoisonError, RwLock};

use base64::prelude::{BASE64_STANDARD, Engine};

/// A user name and the secret that proves it.
#[derive(Clone, Debug)]
pub struct Credentials {
    /// The account's name at the mail server, often its address.
    pub user: String,
    /// The proof.
    pub secret: Secret,
}

/// The kinds of proof.
#[derive(Clone, Debug)]
pub enum Secret {
    /// A password, shown by PLAIN or LOGIN.
    Password(SecretText),
    /// An OAuth 2 access token, shown by XOAUTH2 or OAUTHBEARER (RFC 7628).
    BearerToken(SecretText),
}

impl Secret {
    /// The secret as text, whatever its kind.
    pub(super) fn text(&self) -> String {
        match self {
            Self::Password(text) | Self::BearerToken(text) => text.reveal(),
        }
    }
}

/// A secret shared by all its copies, so that a token can be refreshed while the service runs.
#[derive(Clone)]
pub struct SecretText(Arc<RwLock<String>>);

impl SecretText {
    /// Takes a secret in.
    pub fn new(text: impl Into<String>) -> Self {
        Self(Arc::new(RwLock::new(text.into())))
    }

    /// Replaces the secret in every copy; the next login uses the new one.
    pub fn replace(&self, text: impl Into<String>) {
        // A poisoned lock still holds a whole string: a writer only ever swaps it.
        *self.0.write().unwrap_or_else(PoisonError::into_inner) = text.into();
    }

    fn reveal(&self) -> String {
        self.0.read().unwrap_or_else(PoisonError::into_inner).clone()
    }
}

impl fmt::Debug for SecretText {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("SecretText(…)")
    }
}

/// A token as OAUTHBEARER shows it (RFC 7628, section 3.1).
pub(super) struct BearerToken<'a> {
    pub(super) user: &'a str,
    pub(super) token: String,
}

impl BearerToken<'_> {
    /// The first and only message of the mechanism.
    pub(super) fn message(&self) -> String {
        // A comma and an equals sign of the user's name have names of their own (RFC 5801).
        let user = self.user.replace('=', "=3D").replace(',', "=2C");
        format!("n,a={user},\x01auth=Bearer {}\x01\x01", self.token)
    }

    /// The same in the letters that SMTP carries.
    pub(super) fn encoded(&self) -> String {
        BASE64_STANDARD.encode(self.message())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_replaced_secret_reaches_every_copy_and_never_shows() {
        let token = SecretText::new("old-marker");
        let credentials =
            Credentials { user: "robot".into(), secret: Secret::BearerToken(token.clone()) };
        token.replace("new-marker");
        assert_eq!(credentials.secret.text(), "new-marker");
        assert!(!format!("{credentials:?}").contains("marker"));
    }

    #[test]
    fn a_bearer_token_is_shown_as_the_standard_has_it() {
        // The example of RFC 7628, section 4.1, without its host and port, which are optional.
        let token = "vF9dft4qmTc2Nvb3RlckBhbHRhdmlzdGEuY29tCg==".to_owned();
        let shown = BearerToken { user: "user@example.com", token }.message();
        assert_eq!(
            shown,
            "n,a=user@example.com,\x01auth=Bearer vF9dft4qmTc2Nvb3RlckBhbHRhdmlzdGEuY29tCg==\x01\x01"
        );
        let odd = BearerToken { user: "a,b=c", token: "t".into() };
        assert_eq!(odd.message(), "n,a=a=2Cb=3Dc,\x01auth=Bearer t\x01\x01");
    }
}
