//! Whether the clinic's own receiving server vouches for a message's sender: its
//! Authentication-Results (RFC 8601).
//!
//! Never here: checking signatures; what follows for an answer (R29).
//! Promises: results that any other server claims are passed over, and so is what stands below the
//! first header that is not our server's; a sender is proven only for the domain of the From
//! address.

use super::Letter;

/// What our own receiving server says of the sender.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Proof {
    /// The address is proven.
    Passed,
    /// The sender's domain offers nothing to prove it by.
    NothingToCheck,
    /// The check failed, or could not be made.
    Failed,
    /// Our server says nothing: the message did not come through it, or the name is wrong.
    Absent,
}

/// One method's result: `dkim=pass header.d=clinic.example`.
#[derive(Debug)]
struct MethodResult {
    method: String,
    result: String,
    /// Properties by name, such as `header.d`.
    properties: Vec<(String, String)>,
}

impl Letter {
    /// What the server of this authserv-id says of the letter's sender.
    pub fn proof(&self, authserv_id: &str) -> Proof {
        // A server may add one header for each method; all stand above what came from outside.
        let own: Vec<MethodResult> = self
            .authentication_results
            .iter()
            .map_while(|header| results(header, authserv_id))
            .flatten()
            .collect();
        let stated = self
            .authentication_results
            .first()
            .is_some_and(|header| results(header, authserv_id).is_some());
        if !stated {
            return Proof::Absent;
        }
        let domain = self.from.as_deref().and_then(|from| from.rsplit_once('@')).map(|(_, d)| d);
        let Some(domain) = domain else { return Proof::Failed };
        judge(&own, domain)
    }
}

/// DMARC decides where it was checked; else a pass of DKIM or SPF for the sender's own domain.
fn judge(results: &[MethodResult], domain: &str) -> Proof {
    let of = |method: &'static str| results.iter().filter(move |r| r.method == method);
    let checked = |r: &&MethodResult| r.result != "none";
    let mut dmarc = of("dmarc").filter(checked).peekable();
    if dmarc.peek().is_some() {
        let passed = dmarc.all(|r| r.result == "pass" || r.result == "bestguesspass");
        return if passed { Proof::Passed } else { Proof::Failed };
    }
    let names_domain = |r: &MethodResult, names: &[&str]| {
        r.properties
            .iter()
            .any(|(name, value)| names.contains(&name.as_str()) && is_of_domain(value, domain))
    };
    let signed =
        of("dkim").any(|r| r.result == "pass" && names_domain(r, &["header.d", "header.i"]));
    let sent = of("spf").any(|r| r.result == "pass" && names_domain(r, &["smtp.mailfrom"]));
    if signed || sent {
        return Proof::Passed;
    }
    let weak = ["none", "neutral", "pass", "policy"];
    let failed = results
        .iter()
        .filter(|r| ["dkim", "spf"].contains(&r.method.as_str()))
        .any(|r| !weak.contains(&r.result.as_str()));
    if failed { Proof::Failed } else { Proof::NothingToCheck }
}

/// Whether a domain, or the domain of an address, is the sender's own or one above it.
fn is_of_domain(value: &str, domain: &str) -> bool {
    let named = value.rsplit('@').next().unwrap_or(value).trim_matches(['<', '>', '"']);
    let (named, domain) = (named.to_ascii_lowercase(), domain.to_ascii_lowercase());
    let above = domain.strip_suffix(&named).is_some_and(|rest| rest.ends_with('.'));
    // One label alone, such as `example`, proves nothing.
    named == domain || above && named.contains('.')
}

/// The results in a header, if it is of this server.
fn results(header: &str, authserv_id: &str) -> Option<Vec<MethodResult>> {
    let bare = without_comments(header);
    let mut parts = bare.split(';');
    let id = parts.next()?.split_whitespace().next()?.trim_matches('"');
    if !id.eq_ignore_ascii_case(authserv_id) {
        return None;
    }
    Some(parts.filter_map(result).collect())
}

fn result(part: &str) -> Option<MethodResult> {
    let spaced = part.replace(" =", "=").replace("= ", "=");
    let mut words = spaced.split_whitespace();
    let (method, result) = words.next()?.split_once('=')?;
    // A method may carry its version: `dkim/1`.
    let method = method.split('/').next().unwrap_or(method);
    let properties = words.filter_map(|word| word.split_once('='));
    Some(MethodResult {
        method: method.to_ascii_lowercase(),
        result: result.to_ascii_lowercase(),
        properties: properties
            .map(|(name, value)| (name.to_ascii_lowercase(), value.trim_matches('"').to_owned()))
            .collect(),
    })
}

/// A header without its comments in brackets, which may be nested, and with what is quoted kept.
fn without_comments(header: &str) -> String {
    let (mut out, mut depth, mut quoted, mut escaped) = (String::new(), 0usize, false, false);
    for c in header.chars() {
        if escaped {
            escaped = false;
            if depth == 0 && c != ';' {
                out.push(c);
            }
            continue;
        }
        match c {
            '\\' => escaped = true,
            '"' if depth == 0 => quoted = !quoted,
            '(' if !quoted => depth += 1,
            ')' if !quoted && depth > 0 => depth -= 1,
            // A quoted semicolon parts nothing.
            ';' if quoted => {}
            _ if depth == 0 => out.push(c),
            _ => {}
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::Proof;
    use crate::reply::letter::open;

    fn proof(headers: &[&str]) -> Proof {
        let headers: String =
            headers.iter().map(|h| format!("Authentication-Results: {h}\r\n")).collect();
        let raw = format!("{headers}From: Ann <ann@home.example>\r\n\r\nno marks\r\n");
        open(raw.as_bytes()).proof("mx.clinic.example")
    }

    #[test]
    fn dmarc_of_our_own_server_decides() {
        let pass = "mx.clinic.example; dkim=pass header.d=home.example; dmarc=pass";
        assert_eq!(proof(&[pass]), Proof::Passed);
        let fail = "mx.clinic.example; spf=pass smtp.mailfrom=ann@home.example; dmarc=fail";
        assert_eq!(proof(&[fail]), Proof::Failed);
        let unsure = "mx.clinic.example; dmarc=temperror header.from=home.example";
        assert_eq!(proof(&[unsure]), Proof::Failed);
    }

    #[test]
    fn without_dmarc_a_pass_counts_only_for_the_senders_own_domain() {
        let own = "mx.clinic.example; dkim=pass (good; sig) header.d=home.example";
        assert_eq!(proof(&[own]), Proof::Passed);
        let other = "mx.clinic.example; dkim=pass header.d=elsewhere.example; spf=softfail";
        assert_eq!(proof(&[other]), Proof::Failed);
        let top = "mx.clinic.example; dkim=pass header.d=example; spf=none";
        assert_eq!(proof(&[top]), Proof::NothingToCheck);
        let sent = "mx.clinic.example; spf=pass smtp.mailfrom=\"ann@home.example\"";
        assert_eq!(proof(&[sent]), Proof::Passed);
    }

    #[test]
    fn a_domain_without_any_of_it_has_nothing_to_check() {
        assert_eq!(proof(&["mx.clinic.example; none"]), Proof::NothingToCheck);
        let none = "mx.clinic.example 1; spf=none; dkim=none; dmarc=none";
        assert_eq!(proof(&[none]), Proof::NothingToCheck);
    }

    #[test]
    fn results_that_others_claim_are_passed_over() {
        let forged = "mx.attacker.example; dmarc=pass";
        let below = "mx.clinic.example; dmarc=pass";
        assert_eq!(proof(&[]), Proof::Absent);
        assert_eq!(proof(&[forged]), Proof::Absent);
        // Ours stands topmost; below a foreign one it came with the message.
        assert_eq!(proof(&[forged, below]), Proof::Absent);
        let ours = "MX.Clinic.Example; dmarc=fail (p=none)";
        assert_eq!(proof(&[ours, forged, below]), Proof::Failed);
        assert_eq!(proof(&["mx.clinic.example; dmarc=fail", below]), Proof::Failed);
    }
}
