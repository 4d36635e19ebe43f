//! Prints a page with a real browser, as somebody at a clinic would, and reads the sheets back.
//!
//! Never here: what is on the page. Needs Debian's `chromium` and `poppler-utils` (`tests/setup.sh`).

use std::process::Command;

/// The text of each sheet that a page prints to.
pub fn sheets(html: &str) -> Vec<String> {
    let folder = tempfile::tempdir().unwrap();
    let (page, pdf) = (folder.path().join("page.html"), folder.path().join("page.pdf"));
    std::fs::write(&page, html).unwrap();
    let printed = Command::new("chromium")
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"])
        .arg(format!("--user-data-dir={}", folder.path().join("profile").display()))
        .arg(format!("--print-to-pdf={}", pdf.display()))
        .arg(format!("file://{}", page.display()))
        .output()
        .expect("chromium is there: tests/setup.sh installs it");
    assert!(pdf.exists(), "nothing was printed: {}", String::from_utf8_lossy(&printed.stderr));
    let read = Command::new("pdftotext")
        .arg("-layout")
        .arg(&pdf)
        .arg("-")
        .output()
        .expect("pdftotext is there: tests/setup.sh installs it");
    let text = String::from_utf8(read.stdout).unwrap();
    // Each sheet ends with a form feed.
    let mut sheets: Vec<String> = text.split('\u{c}').map(str::to_owned).collect();
    assert_eq!(sheets.pop().as_deref().map(str::trim), Some(""), "the last sheet has its end");
    sheets
}
