//! Starts a PostgreSQL for a test binary, and stops it when that ends.
//!
//! Never here: what is tested.
//! Promises: the server ends with the test process, however that ends; each [`Schema`] is a database
//! of its own to the program.

// Each test binary uses its own part of this.
#![allow(dead_code)]

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU32, Ordering};

use fadewatch::store::Server;

/// The user that owns everything on the server of the tests.
const USER: &str = "fadewatch";
const DATABASE: &str = "postgres";

/// A running server; its standard input holds it up.
struct Running {
    folder: PathBuf,
    port: u16,
    _child: Child,
}

/// A place for one store on the server.
#[derive(Clone, Debug)]
pub struct Schema {
    folder: PathBuf,
    port: u16,
    name: String,
}

impl Schema {
    /// A new, empty one.
    pub fn new() -> Self {
        static MADE: AtomicU32 = AtomicU32::new(0);
        let number = MADE.fetch_add(1, Ordering::Relaxed);
        let Running { folder, port, .. } = shared();
        let (folder, port, name) = (folder.clone(), *port, format!("s{number}"));
        let schema = Self { folder, port, name };
        schema.run(&format!("CREATE SCHEMA {}", schema.name)).unwrap();
        schema
    }

    /// One that another process of the tests has made.
    pub fn known(told: &str) -> Self {
        let [folder, port, name] = told.split(' ').collect::<Vec<_>>()[..] else {
            panic!("{told} is no place on the server")
        };
        Self { folder: folder.into(), port: port.parse().unwrap(), name: name.to_owned() }
    }

    /// The text by which another process of the tests knows it.
    pub fn told(&self) -> String {
        format!("{} {} {}", self.folder.display(), self.port, self.name)
    }

    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Its address for those who come over the network, by TLS and with a password.
    pub fn address_by_network(&self) -> String {
        let Self { port, name, .. } = self;
        format!(
            "host=localhost port={port} dbname={DATABASE} user=guarded sslmode=require \
             options='-c search_path={name}'"
        )
    }

    /// Its address, as it stands in a clinic file.
    pub fn address(&self) -> String {
        let (folder, port, name) = (self.folder.display(), self.port, &self.name);
        format!(
            "host={folder} port={port} dbname={DATABASE} user={USER} options='-c search_path={name}'"
        )
    }

    pub fn server(&self) -> Server {
        Server::new(&self.address(), None, None).unwrap()
    }

    /// Runs SQL by the server's own program, past ours. Returns how many rows the last statement
    /// changed or gave, or what the server complained of.
    pub fn run(&self, sql: &str) -> Result<usize, String> {
        let told = self.asked(sql)?;
        let counted = told.lines().last().and_then(|tag| tag.rsplit(' ').next());
        Ok(counted.and_then(|count| count.parse().ok()).unwrap_or(0))
    }

    /// All of it as SQL, under another name.
    pub fn dumped_as(&self, name: &str) -> String {
        self.run(&format!("ALTER SCHEMA {} RENAME TO {name}", self.name)).unwrap();
        let dumped = self.program("pg_dump").args(["--no-owner", "-n", name]).output().unwrap();
        self.run(&format!("ALTER SCHEMA {name} RENAME TO {}", self.name)).unwrap();
        assert!(dumped.status.success(), "{}", String::from_utf8_lossy(&dumped.stderr));
        // Newer programs guard against each other's dumps by words that older ones do not know.
        let dump = String::from_utf8(dumped.stdout).unwrap();
        dump.lines()
            .filter(|line| !line.contains("restrict "))
            .map(|line| format!("{line}\n"))
            .collect()
    }

    /// Takes in what was dumped under a name, in place of all that is there.
    pub fn take_in(&self, dump: &str, name: &str) {
        self.run(&format!("DROP SCHEMA {} CASCADE", self.name)).unwrap();
        let mut taking = self
            .program("psql")
            .args(["--no-psqlrc", "--quiet", "-v", "ON_ERROR_STOP=1", "-o", "/dev/null"])
            .stdin(Stdio::piped())
            .spawn()
            .expect("psql of Debian's package is there");
        let dump = dump.replace(name, &self.name);
        taking.stdin.take().unwrap().write_all(dump.as_bytes()).unwrap();
        assert!(taking.wait().unwrap().success());
    }

    /// A program of the server's package, told where the server is.
    fn program(&self, name: &str) -> Command {
        let mut program = Command::new(name);
        program.args(["-U", USER, "-d", DATABASE, "-p", &self.port.to_string(), "-h"]);
        program.arg(&self.folder);
        program
    }

    /// What the server answers, a line a row, with the statement's name at the end.
    pub fn asked(&self, sql: &str) -> Result<String, String> {
        let asked = self
            .program("psql")
            .args(["--no-psqlrc", "--tuples-only", "--no-align", "-v", "ON_ERROR_STOP=1"])
            .args(["-c", sql])
            .env("PGOPTIONS", format!("-c search_path={}", self.name))
            .output()
            .expect("psql of Debian's package is there");
        let text = |bytes| String::from_utf8_lossy(bytes).into_owned();
        if asked.status.success() { Ok(text(&asked.stdout)) } else { Err(text(&asked.stderr)) }
    }
}

fn shared() -> &'static Running {
    static SHARED: OnceLock<Running> = OnceLock::new();
    SHARED.get_or_init(|| {
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/server/server.sh");
        let mut child = Command::new("bash")
            .arg(script)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("bash starts");
        let lines = BufReader::new(child.stdout.take().expect("output is piped")).lines();
        let ready = lines
            .map_while(Result::ok)
            .find_map(|line| line.strip_prefix("READY ").map(str::to_owned))
            .expect("the server of Debian's package starts; see above");
        let (folder, port) = ready.split_once(' ').unwrap();
        Running { folder: folder.into(), port: port.parse().unwrap(), _child: child }
    })
}
