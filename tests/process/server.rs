use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::{Shutdown, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdout, Command, Output, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

/// A small generator (Steele, Lea, Flood 2014: SplitMix64), so that a failing run can be had again.
pub struct Chance(pub u64);

impl Chance {
    pub fn below(&mut self, limit: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (mixed ^ (mixed >> 31)) % limit
    }
}

/// Lets real time pass for another process, which has no clock that a test could set.
pub fn pause(time: Duration) {
    let begun = Instant::now();
    while let Some(rest) = time
        .checked_sub(begun.elapsed())
        .filter(|rest| !rest.is_zero())
    {
        std::thread::park_timeout(rest);
    }
}

pub fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_scrapwright"));
    command.env_clear();
    command
}

pub fn run(args: &[&str]) -> Output {
    program().args(args).output().unwrap()
}

/// What came back over HTTP.
#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: String,
}

impl Answer {
    fn parse(bytes: &[u8]) -> Option<Answer> {
        let text = String::from_utf8_lossy(bytes);
        let (head, body) = text.split_once("\r\n\r\n")?;
        let status = head.split(' ').nth(1)?.parse().ok()?;
        let answer = Answer {
            status,
            head: head.to_ascii_lowercase(),
            body: body.to_owned(),
        };
        // A connection that broke in the middle is no answer.
        let length = answer.header("content-length")?.parse::<usize>().ok()?;
        (answer.body.len() >= length).then_some(answer)
    }

    pub fn header(&self, name: &str) -> Option<&str> {
        self.head
            .lines()
            .find_map(|line| line.strip_prefix(name)?.strip_prefix(": "))
    }

    pub fn json(&self) -> Value {
        serde_json::from_str(&self.body).unwrap_or(Value::Null)
    }

    /// Done, or refused with words that help; never a fault.
    pub fn is_done(&self) -> bool {
        if self.status < 300 {
            return true;
        }
        assert!(!self.body.contains("locked"), "{self:?}");
        assert!(
            matches!(self.status, 404 | 409 | 412 | 422 | 429 | 503),
            "{self:?}"
        );
        let detail = self.json()["detail"].as_str().unwrap_or("").to_owned();
        assert!(detail.len() > 10, "{self:?}");
        if matches!(self.status, 429 | 503) {
            assert!(self.header("retry-after").is_some(), "{self:?}");
        }
        false
    }
}

/// Somebody with a token.
#[derive(Clone)]
pub struct Caller {
    pub address: String,
    pub token: String,
}

impl Caller {
    fn request(&self, method: &str, path: &str, version: Option<i64>, body: &Value) -> String {
        let body = if body.is_null() {
            String::new()
        } else {
            body.to_string()
        };
        self.request_with(method, path, version, &body)
    }

    fn request_with(&self, method: &str, path: &str, version: Option<i64>, body: &str) -> String {
        let token = if self.token.is_empty() {
            String::new()
        } else {
            format!("authorization: Bearer {}\r\n", self.token)
        };
        let version = version.map_or_else(String::new, |version| {
            format!("if-match: \"v{version}\"\r\n")
        });
        format!(
            "{method} {path} HTTP/1.1\r\nhost: {}\r\nconnection: close\r\n{token}\
             content-type: application/json\r\n{version}content-length: {}\r\n\r\n{body}",
            self.address,
            body.len()
        )
    }

    fn send(&self, request: &str) -> Option<TcpStream> {
        let mut stream = TcpStream::connect(&self.address).ok()?;
        stream
            .set_read_timeout(Some(Duration::from_secs(60)))
            .ok()?;
        stream.write_all(request.as_bytes()).ok()?;
        Some(stream)
    }

    /// The answer; `None` if the connection ended before it was there.
    pub fn change(
        &self,
        method: &str,
        path: &str,
        version: Option<i64>,
        body: &Value,
    ) -> Option<Answer> {
        self.answer(&self.request(method, path, version, body))
    }

    /// The answer to a body that is sent as it stands.
    pub fn post_text(&self, path: &str, body: &str) -> Option<Answer> {
        self.answer(&self.request_with("POST", path, None, body))
    }

    fn answer(&self, request: &str) -> Option<Answer> {
        let mut stream = self.send(request)?;
        let mut bytes = Vec::new();
        // A reset after the answer does not unsay it.
        let _ = stream.read_to_end(&mut bytes);
        // Without content there is no length.
        if bytes.starts_with(b"HTTP/1.1 204") {
            return Some(Answer {
                status: 204,
                head: String::new(),
                body: String::new(),
            });
        }
        Answer::parse(&bytes)
    }

    /// Sends a request and goes away without waiting for the answer.
    pub fn hang_up(
        &self,
        method: &str,
        path: &str,
        version: Option<i64>,
        body: &Value,
        after: Duration,
    ) {
        if let Some(stream) = self.send(&self.request(method, path, version, body)) {
            pause(after);
            let _ = stream.shutdown(Shutdown::Both);
        }
    }

    pub fn post(&self, path: &str, body: &Value) -> Option<Answer> {
        self.change("POST", path, None, body)
    }

    pub fn get(&self, path: &str) -> Option<Answer> {
        self.change("GET", path, None, &Value::Null)
    }
}

/// A serving process, killed when dropped.
pub struct Server {
    pub child: Child,
    pub address: String,
    pub link: Option<String>,
    _lines: std::io::Lines<BufReader<ChildStdout>>,
}

impl Server {
    pub fn start(data: &Path) -> Server {
        Server::spawn(program().arg("serve").stderr(Stdio::null()), data)
    }

    /// `command` says `serve` or `demo`, with other arguments after it as they are wanted.
    pub fn spawn(command: &mut Command, data: &Path) -> Server {
        Server::listen(
            command
                .args(["--listen", "127.0.0.1:0", "--shutdown-seconds", "5"])
                .arg("--data")
                .arg(data),
        )
    }

    /// Whatever says where it serves.
    pub fn listen(command: &mut Command) -> Server {
        let mut child = command.stdout(Stdio::piped()).spawn().unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let mut link = None;
        let address = loop {
            let line = lines
                .next()
                .expect("the program says where it serves")
                .unwrap();
            if let Some((_, path)) = line.split_once("/join/") {
                link = Some(format!("/join/{path}"));
            }
            if line.starts_with("Serving ") {
                break line.rsplit("http://").next().unwrap().to_owned();
            }
        };
        Server {
            child,
            address,
            link,
            _lines: lines,
        }
    }

    pub fn terminate(&self) {
        let id = self.child.id().to_string();
        let sent = Command::new("kill").args(["-TERM", &id]).status().unwrap();
        assert!(sent.success());
    }

    pub fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Somebody without a token.
    pub fn guest(&self) -> Caller {
        Caller {
            address: self.address.clone(),
            token: String::new(),
        }
    }

    /// Sends a form, and gives the whole answer.
    pub fn form(&self, path: &str, cookie: &str, body: &str) -> String {
        let mut stream = TcpStream::connect(&self.address).unwrap();
        write!(
            stream,
            "POST {path} HTTP/1.1\r\nhost: {}\r\nconnection: close\r\ncookie: {cookie}\r\n\
             content-type: application/x-www-form-urlencoded\r\ncontent-length: {}\r\n\r\n{body}",
            self.address,
            body.len()
        )
        .unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        answer
    }

    /// Sends a form that signs somebody in, and gives the cookie of the session.
    pub fn session(&self, path: &str, form: &str) -> String {
        let answer = self.form(path, "", form);
        answer
            .lines()
            .find_map(|line| line.strip_prefix("set-cookie: "))
            .and_then(|cookie| cookie.split(';').next())
            .unwrap_or_else(|| panic!("no session in {answer}"))
            .to_owned()
    }

    /// Opens the workshop with the link of the first steward, and makes a token.
    pub fn first_steward(&self) -> Caller {
        let cookie = self.session(
            self.link.as_ref().unwrap(),
            "name=Odile&sign_in_name=odile&password=shavings+on+the+floor&password_again=shavings+on+the+floor",
        );
        let page = self.form("/me/tokens", &cookie, "token_name=press&scope=steward");
        let is_secret = |word: &&str| word.len() == 64;
        let token = page
            .split(|letter: char| !letter.is_ascii_hexdigit())
            .find(is_secret)
            .unwrap_or_else(|| panic!("no token in {page}"));
        Caller {
            address: self.address.clone(),
            token: token.to_owned(),
        }
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A workshop in a file of its own, with a steward and a bin.
pub struct Workshop {
    pub folder: tempfile::TempDir,
    pub server: Server,
    pub steward: Caller,
}

impl Workshop {
    pub fn open() -> Workshop {
        let folder = tempfile::tempdir().unwrap();
        let server = Server::start(&folder.path().join("workshop.db"));
        let steward = server.first_steward();
        let bin = steward
            .post("/api/v1/bins", &json!({"name": "Pale"}))
            .unwrap();
        assert_eq!(bin.status, 201, "{bin:?}");
        Workshop {
            folder,
            server,
            steward,
        }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn data(&self) -> PathBuf {
        self.path("workshop.db")
    }

    /// Starts the program again on the same file; the token is as good as before.
    pub fn serve_again(&mut self) {
        self.server = Server::start(&self.data());
        self.steward.address.clone_from(&self.server.address);
    }

    /// A board of maple strips, matched to what lies in the bins.
    pub fn board(&self, strips: usize) -> i64 {
        let strip = json!({"species": "hard maple", "width": "1 in"});
        let made = self
            .steward
            .post(
                "/api/v1/projects",
                &json!({"name": "Board", "design": {"kind": "striped-board", "length": "10 in",
                    "width": format!("{strips} in"), "thickness": "3/4 in", "surface": "face grain",
                    "strips": vec![strip; strips]}}),
            )
            .unwrap();
        assert_eq!(made.status, 201, "{made:?}");
        let id = made.json()["id"].as_i64().unwrap();
        let found = self
            .steward
            .post(
                &format!("/api/v1/projects/{id}/match"),
                &json!({"seconds": 0.05}),
            )
            .unwrap();
        assert_eq!(found.status, 200, "{found:?}");
        id
    }
}

/// A piece of maple with a note, as it is sent.
pub fn maple(width: &str, note: &str) -> Value {
    json!({"species": "hard maple", "length": "13 in", "width": width, "thickness": "7/8 in", "bin": 1, "note": note})
}
