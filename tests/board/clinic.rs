//! A clinic whose service runs with a board.
//!
//! Never here: what is tested.
//! Promises: the service ends with its test; links come out of the maildirs of the people.

use std::fs::{self, File};
use std::net::{TcpListener, TcpStream};
use std::path::PathBuf;
use std::process::{Child, Command};
use std::time::{Duration, Instant};

use fadewatch::reply::letter;

use crate::browser::Browser;
use crate::world::World;

/// Longest wait for something that the service does within a moment.
const PATIENCE: Duration = Duration::from_secs(60);

/// A clinic with a running service and its board.
pub struct Clinic {
    pub world: World,
    pub port: u16,
    service: Child,
}

impl Clinic {
    /// The clinic of [`World::busy`], with its board open.
    pub fn busy() -> Self {
        Self::serve(World::busy())
    }

    /// Starts the service of a clinic with a board on a free port.
    pub fn serve(world: World) -> Self {
        Self::serve_with(world, |_| String::new())
    }

    /// As `serve`, with more keys in the table of the board, which may hang on its port.
    pub fn serve_with(world: World, more: impl FnOnce(u16) -> String) -> Self {
        let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let clinic = Self::start_with(world, port, &more(port));
        until("the board is open", || TcpStream::connect(("127.0.0.1", port)).is_ok());
        clinic
    }

    /// Starts the service with a board on this port, without waiting for it.
    pub fn start(world: World, port: u16) -> Self {
        Self::start_with(world, port, "")
    }

    /// As `start`, with more keys in the table of the board.
    pub fn start_with(world: World, port: u16, more: &str) -> Self {
        let file = world.path("clinic.toml");
        let text = fs::read_to_string(&file).unwrap();
        let board = format!("[board]\nlisten = \"127.0.0.1:{port}\"\n{more}\n");
        fs::write(&file, format!("{text}\n{board}")).unwrap();
        let service = Command::new(assert_cmd::cargo::cargo_bin!("fadewatch"))
            .args(["serve", "--config", "clinic.toml"])
            .current_dir(world.folder.path())
            .env_remove("NOTIFY_SOCKET")
            .env_remove("FADEWATCH_LOG")
            .stderr(File::create(world.path("log")).unwrap())
            .spawn()
            .unwrap();
        Self { world, port, service }
    }

    /// The board's host and port.
    pub fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    /// The board's address.
    pub fn address(&self) -> String {
        format!("http://{}", self.host())
    }

    /// A browser in which nobody is signed in.
    pub fn browser(&self) -> Browser {
        Browser::new(&self.host())
    }

    /// A browser in which a person is signed in, by a link out of their mail.
    pub fn sign_in(&self, who: &str) -> Browser {
        let link = self.link(who);
        self.enter(&link).unwrap()
    }

    /// Uses a link; none when it does not work.
    pub fn enter(&self, link: &str) -> Option<Browser> {
        let key = link.rsplit('/').next().unwrap();
        let answer = self.browser().post("/enter", &[("link", key)]);
        let cookie = answer.header("set-cookie")?.split(';').next()?.to_owned();
        let mut browser = self.browser();
        browser.cookie = Some(cookie);
        Some(browser)
    }

    /// Asks for a link and takes it out of the person's mail.
    pub fn link(&self, who: &str) -> String {
        let before = self.links(who).len();
        let mail = format!("{who}@clinic.example");
        let answer = self.browser().post("/sign-in", &[("mail", &mail)]);
        assert_eq!(answer.status, 200, "{}", answer.body);
        until("the link has come", || self.links(who).len() > before);
        self.links(who).pop().unwrap()
    }

    /// The links that have come to a person, the newest last.
    pub fn links(&self, who: &str) -> Vec<String> {
        let begins = "/enter/";
        let link = |path: PathBuf| {
            let words = letter::open(&fs::read(path).ok()?).words;
            Some(words.split_whitespace().find(|word| word.contains(begins))?.to_owned())
        };
        self.mails_to(who).into_iter().filter_map(link).collect()
    }

    /// Mails that have come to somebody of the clinic, the newest last.
    pub fn mails_to(&self, who: &str) -> Vec<PathBuf> {
        let folder = self.world.path(&format!("mail/out/{who}@clinic.example/new"));
        let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
        let mut mails: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
        mails.sort_by_key(|path| fs::metadata(path).unwrap().modified().unwrap());
        mails
    }

    /// Puts a mail into the mailbox of the service, whole at once as maildirs want it.
    pub fn deliver(&self, name: &str, from: &str, words: &str) {
        let mail = format!(
            "From: {from}\r\nTo: checks@clinic.example\r\nMessage-ID: <{name}@home.example>\r\n\
             Subject: about today\r\n\r\n{words}\r\n"
        );
        let (draft, folder) = (self.world.path(name), self.world.path("mail/in/new"));
        fs::create_dir_all(&folder).unwrap();
        fs::write(&draft, mail).unwrap();
        fs::rename(draft, folder.join(name)).unwrap();
    }

    /// What the service has logged.
    pub fn log(&self) -> String {
        fs::read_to_string(self.world.path("log")).unwrap()
    }

    /// The journal of a client, as one text.
    pub fn journal(&self, client: &str) -> String {
        self.world.run(&["journal", client]).out
    }

    /// Whether the service still runs.
    pub fn is_running(&mut self) -> bool {
        self.service.try_wait().unwrap().is_none()
    }
}

impl Drop for Clinic {
    fn drop(&mut self) {
        let _ = self.service.kill();
        let _ = self.service.wait();
    }
}

/// Waits until something holds.
pub fn until(what: &str, mut holds: impl FnMut() -> bool) {
    let begin = Instant::now();
    while !holds() {
        assert!(begin.elapsed() < PATIENCE, "waited in vain: {what}");
        std::thread::sleep(Duration::from_millis(50));
    }
}
