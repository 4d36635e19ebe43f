//! What is packed: the unit is right and hardened, and everything that the package names is there.
//!
//! Never here: installing the package (`tests/packaging/debian-root.sh`).
//! Promises: needs nothing but systemd's own tools.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on says so by stopping")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// The highest exposure that is taken, in tenths, by systemd's own measure from 0 to 10.
const EXPOSURE_TENTHS_MAX: u32 = 15;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn unit() -> PathBuf {
    root().join("packaging/fadewatch.service")
}

#[test]
fn systemd_finds_nothing_wrong_with_the_unit() {
    let folder = tempfile::tempdir().unwrap();
    let program = assert_cmd::cargo::cargo_bin!("fadewatch").display().to_string();
    let text = fs::read_to_string(unit()).unwrap().replace("/usr/bin/fadewatch", &program);
    let path = folder.path().join("fadewatch.service");
    fs::write(&path, text).unwrap();
    let verified =
        Command::new("systemd-analyze").args(["verify", "--man=no"]).arg(path).output().unwrap();
    let told = String::from_utf8_lossy(&verified.stderr);
    assert!(verified.status.success() && told.trim().is_empty(), "{told}");
}

#[test]
fn the_unit_is_hardly_exposed_by_systemds_own_measure() {
    let measured = Command::new("systemd-analyze")
        .args(["security", "--offline=true", "--no-pager"])
        .arg(format!("--threshold={EXPOSURE_TENTHS_MAX}"))
        .arg(unit())
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&measured.stdout);
    let last = told.lines().last().unwrap_or_default();
    println!("{last}");
    assert!(measured.status.success(), "{last}");
}

#[test]
fn the_unit_leaves_no_core_dump_and_no_file_for_others() {
    let text = fs::read_to_string(unit()).unwrap();
    // A core dump would hold names, words and passwords.
    for line in ["LimitCORE=0", "UMask=0077", "PrivateTmp=yes"] {
        assert!(text.lines().any(|set| set == line), "{line} is not set");
    }
}

#[test]
fn every_file_that_the_package_names_is_there_or_is_made_for_it() {
    let text = fs::read_to_string(root().join("Cargo.toml")).unwrap();
    let manifest: toml::Table = text.parse().unwrap();
    let deb = &manifest["package"]["metadata"]["deb"];
    let script = fs::read_to_string(root().join("packaging/build-deb.sh")).unwrap();
    let assets = deb["assets"].as_array().unwrap();
    assert!(assets.len() > 10);
    for asset in assets {
        let source = asset[0].as_str().unwrap();
        let is_made = source.starts_with("target/");
        let place = source.trim_end_matches(['*']).trim_end_matches("*.toml");
        let place = place.split('*').next().unwrap();
        assert!(is_made || Path::new(&root().join(place)).exists(), "{source} is not there");
        if let Some(made) = source.strip_prefix("target/packaging/") {
            let word = made.split(['/', '.']).next().unwrap();
            assert!(script.contains(word), "nothing makes {source}");
        }
    }
    for script in ["preinst", "postinst", "prerm", "postrm"] {
        let path = root().join("packaging/debian").join(script);
        assert!(Command::new("sh").arg("-n").arg(path).status().unwrap().success(), "{script}");
    }
}

#[test]
fn every_packed_scenario_can_be_rehearsed_where_the_package_puts_it() {
    let text = fs::read_to_string(root().join("Cargo.toml")).unwrap();
    let manifest: toml::Table = text.parse().unwrap();
    let packed = tempfile::tempdir().unwrap();
    let assets = manifest["package"]["metadata"]["deb"]["assets"].as_array().unwrap();
    for asset in assets {
        let (source, target) = (asset[0].as_str().unwrap(), asset[1].as_str().unwrap());
        let Some(source) = source.strip_prefix("config/") else { continue };
        let target = packed.path().join(target);
        match source.strip_suffix("/*.toml") {
            None => {
                fs::create_dir_all(target.parent().unwrap()).unwrap();
                fs::copy(root().join("config").join(source), target).unwrap();
            }
            Some(folder) => {
                fs::create_dir_all(&target).unwrap();
                for file in fs::read_dir(root().join("config").join(folder)).unwrap() {
                    let file = file.unwrap();
                    fs::copy(file.path(), target.join(file.file_name())).unwrap();
                }
            }
        }
    }
    let scenarios = packed.path().join("usr/share/doc/fadewatch/examples/scenarios");
    let mut rehearsed = 0;
    for file in fs::read_dir(scenarios).unwrap() {
        let path = file.unwrap().path();
        let ran = Command::new(assert_cmd::cargo::cargo_bin!("fadewatch"))
            .arg("rehearse")
            .arg(&path)
            .output()
            .unwrap();
        let told = String::from_utf8_lossy(&ran.stderr);
        assert!(ran.status.success(), "{}: {told}", path.display());
        rehearsed += 1;
    }
    assert_eq!(rehearsed, 6);
}

#[test]
fn the_service_user_owns_its_data_and_nobody_else_reads_it() {
    let read = |name: &str| fs::read_to_string(root().join("packaging").join(name)).unwrap();
    assert!(read("fadewatch.sysusers").contains("u fadewatch - "));
    assert!(read("fadewatch.tmpfiles").contains("d /var/lib/fadewatch 0700 fadewatch fadewatch"));
    let unit = read("fadewatch.service");
    for line in ["User=fadewatch", "UMask=0077", "StateDirectoryMode=0700", "ProtectSystem=strict"]
    {
        assert!(unit.lines().any(|found| found == line), "{line}");
    }
}
