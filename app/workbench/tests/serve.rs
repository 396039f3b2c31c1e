//! `serve`: the workbench over its own address, by plain requests: whole jobs without script, and everything that must be
//! refused. What only a browser can show is in `referee/browser.py`.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use diagnosis::planted::Planted;
use machine::{Fault, Machine};
use quantity::Celsius;

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../..");

/// A workbench that is served, in a folder of its own.
pub struct Served {
    pub child: Child,
    pub address: String,
    pub folder: PathBuf,
}

/// An answer to a request.
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: String,
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

impl Served {
    /// The program with these arguments; its data are in a fresh folder.
    fn with(name: &str, arguments: &[&str]) -> Self {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("serve-{name}-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder).unwrap();
        let (child, address) = Self::started(&folder, arguments);
        Self { child, address, folder }
    }

    /// Ends the program as a power failure would, and starts it again in its folder.
    pub fn again(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
        (self.child, self.address) = Self::started(&self.folder, &["serve", "--port", "0"]);
    }

    fn started(folder: &Path, arguments: &[&str]) -> (Child, String) {
        let mut child = Command::new(env!("CARGO_BIN_EXE_probewright"))
            .args(arguments)
            .env("XDG_CONFIG_HOME", "/nonexistent")
            .env("XDG_DATA_HOME", folder)
            .env("XDG_CACHE_HOME", concat!(env!("CARGO_TARGET_TMPDIR"), "/cache"))
            .env_remove("PROBEWRIGHT_JOURNAL")
            .env("NO_COLOR", "1")
            .stdin(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
        let first = lines.next().unwrap().unwrap();
        let address =
            first.split("http://").nth(1).unwrap_or_else(|| panic!("{first}")).trim_end_matches('/').to_owned();
        // Whoever listens no more must not stop the program from talking.
        std::thread::spawn(move || lines.map_while(Result::ok).for_each(drop));
        (child, address)
    }

    pub fn new(name: &str) -> Self {
        Self::with(name, &["serve", "--port", "0"])
    }

    /// Sends a request as it is and reads the whole answer.
    fn raw(&self, request: &[u8]) -> Answer {
        let mut stream = TcpStream::connect(&self.address).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(40))).unwrap();
        // The server may refuse before it has read everything.
        let _ = stream.write_all(request);
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        let text = String::from_utf8_lossy(&answer).into_owned();
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
        let status = head.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or(0);
        Answer { status, head: head.to_owned(), body: body.to_owned() }
    }

    pub fn request(&self, method: &str, path: &str, headers: &str, body: &[u8]) -> Answer {
        let host = if headers.contains("Host:") { String::new() } else { format!("Host: {}\r\n", self.address) };
        let length = if body.is_empty() && method == "GET" {
            String::new()
        } else {
            format!("Content-Length: {}\r\n", body.len())
        };
        let head = format!("{method} {path} HTTP/1.1\r\n{host}{length}Connection: close\r\n{headers}\r\n");
        self.raw(&[head.as_bytes(), body].concat())
    }

    pub fn get(&self, path: &str) -> Answer {
        self.request("GET", path, "", b"")
    }

    /// Sends a form of a page of this workbench, and goes where it sends.
    pub fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let seal = self.seal();
        let answer = self.form(path, &[fields, &[("seal", seal.as_str())]].concat(), "");
        match answer.status {
            303 => self.get(answer.location().split('#').next().unwrap()),
            _ => answer,
        }
    }

    pub fn form(&self, path: &str, fields: &[(&str, &str)], headers: &str) -> Answer {
        let body: Vec<String> =
            fields.iter().map(|(name, text)| format!("{}={}", encoded(name), encoded(text))).collect();
        let kind = "Content-Type: application/x-www-form-urlencoded\r\n";
        self.request("POST", path, &format!("{kind}{headers}"), body.join("&").as_bytes())
    }

    pub fn seal(&self) -> String {
        hidden(&self.get("/new/quad").body, "seal")
    }

    /// A job of a demo machine: its address.
    fn job(&self, machine: &str) -> String {
        self.post("/machines/demo", &[]);
        let seal = self.seal();
        self.form(&format!("/machine/{machine}/job"), &[("seal", &seal)], "").location()
    }
}

impl Answer {
    pub fn location(&self) -> String {
        let line = self.head.lines().find(|line| line.to_lowercase().starts_with("location: "));
        line.unwrap_or_else(|| panic!("{}\n{}", self.head, self.body))["location: ".len()..].to_owned()
    }
}

pub fn encoded(text: &str) -> String {
    text.bytes()
        .map(|byte| if byte.is_ascii_alphanumeric() { (byte as char).to_string() } else { format!("%{byte:02X}") })
        .collect()
}

/// The value of the first hidden field of that name.
pub fn hidden(page: &str, name: &str) -> String {
    let field = page.split(&format!("name=\"{name}\" value=\"")).nth(1).unwrap_or_else(|| panic!("no {name}: {page}"));
    unescaped(field.split('"').next().unwrap())
}

pub fn unescaped(text: &str) -> String {
    text.replace("&quot;", "\"").replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&")
}

#[test]
fn alone_it_opens_the_workbench_and_ends_when_it_is_told_to() {
    let mut served = Served::with("alone", &[]);
    let first = served.get("/");
    assert_eq!(first.status, 200);
    assert!(first.body.contains("Take the eight demo machines"), "{}", first.body);
    assert!(served.post("/machines/demo", &[]).body.contains("Curlew: two-stroke trail bike"));
    Command::new("kill").arg(served.child.id().to_string()).status().unwrap();
    assert!(served.child.wait().unwrap().success());
}

/// Works a job to its proof by forms alone, a planted machine answering.
fn worked(served: &Served, sheet: &str, fault: &str, severity: f64, complaint: &str) -> String {
    let text = std::fs::read_to_string(format!("{ROOT}/machines/{sheet}.toml")).unwrap();
    let machine = Machine::new(machine::sheet::read(&text).sheet.unwrap());
    let planted: Vec<(Fault, f64)> = vec![(machine.fault(fault).unwrap(), severity)];
    let mut planted = Planted::new(&machine, &planted, Some(Celsius(18.0))).unwrap();
    let job = served.job(sheet);
    let mut page = served.get(&job);
    for _ in 0..60 {
        while page.body.contains("Computing what this machine would show") {
            std::thread::sleep(Duration::from_millis(300));
            page = served.get(&job);
        }
        assert_eq!(page.status, 200, "{}", page.body);
        if page.body.contains("<h1>Proven</h1>") {
            let closed = served.post(&format!("{job}/close"), &[]);
            assert!(closed.body.contains("Closed: the cause is proven"), "{}", closed.body);
            return closed.body;
        }
        let question = hidden(&page.body, "question");
        let answer = match question.as_str() {
            "complaint" => complaint.to_owned(),
            "ask:since" => "nothing".to_owned(),
            "air" => "18".to_owned(),
            "meter:leads" => "0.14".to_owned(),
            "meter:amps" => "0.41 A".to_owned(),
            name => planted.answer(&machine, name).unwrap(),
        };
        page = served.post(&format!("{job}/answer"), &[("question", &question), ("typed", &answer)]);
    }
    panic!("no end in sight: {}", page.body);
}

#[test]
fn a_whole_job_is_worked_by_forms_alone_from_complaint_to_proof() {
    let served = Served::new("job");
    let closed = worked(&served, "curlew", "ground-cable:corroded", 0.060, "cranks-slowly");
    assert!(closed.contains("Ground cable is corroded"), "{closed}");
    // The terminal knows the same job.
    let journal = served.folder.join("probewright/journal.db");
    let listed = super::bench::run(&["job", "--journal", journal.to_str().unwrap(), "list"]);
    assert!(listed.out.contains("proven") && listed.out.contains("ground-cable:corroded"), "{}", listed.out);
    taught(&served);
}

/// After a proven job the next one of its machine starts from what it taught, the one itself does not; a word goes back.
fn taught(served: &Served) {
    let journal = served.folder.join("probewright/journal.db");
    let export = super::bench::run(&["job", "--journal", journal.to_str().unwrap(), "export"]);
    let told = export.lines().into_iter().find(|entry| entry["entry"] == "told").unwrap();
    let fits: Vec<f64> = told["severities"][0].as_array().unwrap().iter().map(|part| part.as_f64().unwrap()).collect();
    // 60 mohm of 5 to 400, in the logarithm: the third quarter.
    assert!((fits.iter().sum::<f64>() - 1.0).abs() < 1e-3 && fits[2] > 0.5, "{told}");
    // Entries are told apart by the second.
    std::thread::sleep(Duration::from_millis(1100));
    let job = served.job("curlew");
    served.post(&format!("{job}/answer"), &[("question", "complaint"), ("typed", "cranks-slowly")]);
    served.post(&format!("{job}/answer"), &[("question", "air"), ("typed", "18")]);
    served.post(&format!("{job}/answer"), &[("question", "ask:since"), ("typed", "nothing")]);
    let page = served.post(&format!("{job}/answer"), &[("question", "meter:leads"), ("typed", "0.14")]).body;
    let said = "odds learned from 1 of this model&#39;s jobs and 0 of others";
    assert!(page.replace('\'', "&#39;").contains(said), "{page}");
    let first = served.get(&job.replace("-2", "-1")).body;
    assert!(!first.contains("odds learned from"), "{first}");
    let history = served.get("/machine/curlew/history").body;
    assert!(history.contains("How bad it was when it was proven") && history.contains("cable:corroded"), "{history}");
}

#[test]
fn what_cannot_be_read_comes_back_as_typed_with_a_reason_and_nothing_is_kept() {
    let served = Served::new("typed");
    let job = served.job("curlew");
    let wrong = served.post(&format!("{job}/answer"), &[("question", "air"), ("typed", "15 A <b>")]);
    assert_eq!(wrong.status, 422);
    assert!(wrong.body.contains("Allowed: "), "{}", wrong.body);
    assert!(!wrong.body.contains("<b>\""), "{}", wrong.body);
    let nobody = served.post(&format!("{job}/answer"), &[("question", "volts@held:nothing,frame"), ("typed", "1 V")]);
    assert_eq!(nobody.status, 422, "{}", nobody.body);
    assert!(!served.get(&job).body.contains("Take back the last"), "nothing was kept");
}

#[test]
fn what_was_just_read_is_held_against_a_healthy_machine_and_bad_leads_are_told() {
    let served = Served::new("remark");
    let job = served.job("curlew");
    for (question, typed) in
        [("complaint", "one-click"), ("ask:since", "nothing"), ("air", "18"), ("meter:leads", "5 ohm")]
    {
        served.post(&format!("{job}/answer"), &[("question", question), ("typed", typed)]);
    }
    let page = |served: &Served| loop {
        let page = served.get(&job).body;
        if !page.contains("Computing what this machine would show") {
            return page;
        }
        std::thread::sleep(Duration::from_millis(300));
    };
    assert!(page(&served).contains("These leads cannot be trusted"), "{}", page(&served));
    let probe = "volts@rest:battery.plus,battery.minus";
    served.post(&format!("{job}/answer"), &[("question", probe), ("typed", "9,1")]);
    assert!(page(&served).contains("9.10 V: not as a healthy machine"), "{}", page(&served));
    let drawn = served.get(&format!("{job}/schematic.svg?width=narrow&probe={probe}"));
    assert!(
        drawn.head.contains("image/svg+xml") && drawn.body.contains("<svg") && drawn.body.contains("healthy"),
        "{}",
        drawn.head
    );
    assert_eq!(served.get(&format!("{job}/schematic.svg?probe=nothing")).status, 404);
}

#[test]
fn a_form_sent_twice_counts_once_and_what_was_said_is_taken_back() {
    let served = Served::new("twice");
    let job = served.job("curlew");
    let (seal, key) = (served.seal(), "0123456789abcdef0123456789abcdef");
    let fields = [("seal", seal.as_str()), ("key", key), ("text", "rust at the plug")];
    for _ in 0..2 {
        assert_eq!(served.form(&format!("{job}/note"), &fields, "").status, 303);
    }
    assert_eq!(served.get(&job).body.matches("rust at the plug").count(), 1);
    let back = served.post(&format!("{job}/undo"), &[]);
    assert!(back.body.contains("class=\"gone\""), "{}", back.body);
}

#[test]
fn forged_forms_foreign_names_and_tricks_with_paths_are_refused() {
    let served = Served::new("forged");
    let job = served.job("curlew");
    let note = format!("{job}/note");
    let seal = served.seal();
    let fields = [("seal", seal.as_str()), ("text", "forged")];
    assert_eq!(served.form(&note, &[("text", "forged")], "").status, 403);
    assert_eq!(served.form(&note, &[("seal", "0"), ("text", "forged")], "").status, 403);
    for foreign in ["Origin: http://evil.example\r\n", "Origin: null\r\n", "Sec-Fetch-Site: cross-site\r\n"] {
        assert_eq!(served.form(&note, &fields, foreign).status, 403, "{foreign}");
    }
    for host in ["evil.example", "127.0.0.1.evil.example", "localhost.evil.example:80", ""] {
        assert_eq!(served.request("GET", "/", &format!("Host: {host}\r\n"), b"").status, 421, "{host}");
    }
    assert!(!served.get(&job).body.contains("forged"));
    for path in [
        "/machine/..%2f..%2fetc%2fpasswd",
        "/machine/%2e%2e/sheet",
        "/look/x/..%2fmod.rs",
        "/photo/..%2fjournal.db",
        "/job/%00",
        "/machine/curlew%00",
        "/machine/curlew.toml",
    ] {
        let answer = served.get(path);
        assert!(matches!(answer.status, 400 | 404), "{path}: {} {}", answer.status, answer.body);
        assert!(!answer.body.contains("root:"), "{path}");
    }
    assert_eq!(served.request("DELETE", &job, "", b"").status, 405);
    let policy = served.get("/").head.to_lowercase();
    assert!(policy.contains("content-security-policy: default-src 'none'") && !policy.contains("unsafe"), "{policy}");
}

#[test]
fn too_much_is_refused_and_pictures_are_only_pictures() {
    let served = Served::new("upload");
    let job = served.job("curlew");
    let seal = served.seal();
    let long = "x".repeat(70_000);
    assert_eq!(served.form(&format!("{job}/note"), &[("seal", &seal), ("text", &long)], "").status, 413);
    let upload = |bytes: &[u8], name: &str| {
        let head = format!(
            "--edge\r\nContent-Disposition: form-data; name=\"seal\"\r\n\r\n{seal}\r\n--edge\r\nContent-Disposition: \
             form-data; name=\"text\"\r\n\r\n<i>plug</i>\r\n--edge\r\nContent-Disposition: form-data; name=\"photo\"; \
             filename=\"{name}\"\r\nContent-Type: image/png\r\n\r\n"
        );
        let body = [head.as_bytes(), bytes, b"\r\n--edge--\r\n"].concat();
        served.request("POST", &format!("{job}/photo"), "Content-Type: multipart/form-data; boundary=edge\r\n", &body)
    };
    assert_eq!(upload(b"<svg onload='x()'/>", "plug.png").status, 415);
    assert_eq!(upload(b"", "plug.png").status, 415);
    assert_eq!(upload(&vec![0; 12_200_000], "plug.png").status, 413);
    assert_eq!(upload(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "../../<script>.png").status, 303);
    let page = served.get(&job).body;
    assert!(
        page.contains("&lt;i&gt;plug&lt;/i&gt;") && !page.contains("<i>plug") && !page.contains("<script>"),
        "{page}"
    );
    let photo = page.split("src=\"/photo/").nth(1).unwrap().split('"').next().unwrap();
    let shown = served.get(&format!("/photo/{photo}"));
    assert!(shown.head.contains("content-type: image/png") && shown.head.contains("nosniff"), "{}", shown.head);
}

#[test]
fn a_sheet_with_a_mistake_is_kept_as_typed_and_told_by_line_and_reason() {
    let served = Served::new("sheet");
    served.post("/machines/demo", &[]);
    let file = served.folder.join("probewright/machines/curlew.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    let before = |served: &Served| hidden(&served.get("/machine/curlew/sheet").body, "before");
    let spoiled = text.replace("capacity = \"2.3 Ah\"", "capacity = \"2.3 V\" # </textarea><script>");
    let checked = served.post("/machine/curlew/sheet/check", &[("text", &spoiled)]);
    let line = 1 + spoiled.lines().position(|line| line.contains("2.3 V")).unwrap();
    assert!(checked.body.contains(&format!("line {line}")) && checked.body.contains("1 problem"), "{}", checked.body);
    assert_eq!(std::fs::read_to_string(&file).unwrap(), text, "a check keeps nothing");
    let old = before(&served);
    let kept = served.post("/machine/curlew/sheet", &[("before", &old), ("text", &spoiled)]);
    assert!(kept.body.contains("1 problem") && !kept.body.contains("<script>"), "{}", kept.body);
    assert_eq!(std::fs::read_to_string(&file).unwrap(), spoiled);
    assert!(served.get("/").body.contains("mend them"));
    // Somebody else has kept another text meanwhile: nothing is thrown away.
    let late = served.post("/machine/curlew/sheet", &[("before", &old), ("text", "sheet = 1 # mine")]);
    assert!(late.status == 409 && late.body.contains("sheet = 1 # mine"), "{}", late.body);
    assert_eq!(std::fs::read_to_string(&file).unwrap(), spoiled);
}

#[test]
fn names_in_sheets_are_text_and_a_machine_is_made_from_a_pattern() {
    let served = Served::new("names");
    let made = served.post("/new/quad", &[("name", "dotterel"), ("title", "<script>alert(1)</script>\"'&")]);
    assert_eq!(made.status, 200, "{}", made.body);
    for path in ["/", "/machine/dotterel", "/machine/dotterel/sheet", "/machine/dotterel/history"] {
        let page = served.get(path);
        assert_eq!(page.status, 200, "{path}");
        assert!(!page.body.contains("<script>alert"), "{path}: {}", page.body);
    }
    assert!(served.get("/").body.contains("&lt;script&gt;alert(1)&lt;/script&gt;"));
    // A name of another alphabet goes through every address that sends a browser on.
    assert_eq!(served.post("/new/quad", &[("name", "käuzchen")]).status, 200);
    let bird = "/machine/k%C3%A4uzchen";
    let sheet = served.get(&format!("{bird}/sheet")).body;
    let text = std::fs::read_to_string(served.folder.join("probewright/machines/käuzchen.toml")).unwrap();
    let kept = served.post(&format!("{bird}/sheet"), &[("before", &hidden(&sheet, "before")), ("text", &text)]);
    assert_eq!(kept.status, 200, "{}", kept.body);
    let begun = served.post(&format!("{bird}/job"), &[]);
    assert!(begun.status == 200 && begun.body.contains("What does the owner say?"), "{}", begun.body);
    let again = served.post("/new/quad", &[("name", "dotterel"), ("capacity", "heavy")]);
    assert!(
        again.status == 422 && again.body.contains("is there already") && again.body.contains("value=\"heavy\""),
        "{}",
        again.body
    );
    let nowhere = served.post("/new/quad", &[("name", "../dotterel")]);
    assert_eq!(nowhere.status, 422);
}

#[test]
fn every_worksheet_opens_and_answers_on_a_demo_machine() {
    let served = Served::new("worksheets");
    served.post("/machines/demo", &[]);
    for worksheet in calculator::CATALOGUE {
        let empty = served.get(&format!("/worksheet/{}", worksheet.name));
        assert_eq!(empty.status, 200, "{}: {}", worksheet.name, empty.body);
    }
    let worked = served.get("/worksheet/crank?work=yes&machine=curlew&battery=12,4+V");
    assert!(worked.status == 200 && worked.body.contains("<svg") && worked.body.contains("Working"), "{}", worked.body);
    let wrong = served.get("/worksheet/crank?work=yes&machine=curlew&battery=warm%3Cb%3E");
    assert!(wrong.status == 422 && !wrong.body.contains("<b>\""), "{}", wrong.body);
}

/// Whatever is asked of any address, the answer is never the server's own fault.
#[test]
fn nonsense_sent_to_every_address_is_answered_without_a_fault() {
    let served = Served::new("fuzz");
    let job = served.job("curlew");
    let seal = served.seal();
    let paths = [
        "/",
        "/jobs",
        "/new",
        "/new/quad",
        "/worksheets",
        "/worksheet/cold",
        "/worksheet/drain",
        "/machine/curlew",
        "/machine/curlew/sheet",
        "/machine/curlew/sheet/check",
        "/machine/curlew/readings",
        "/machine/curlew/history",
        "/machine/curlew/job",
        "/machines/demo",
        "/photo/0",
        "/look/0/bench.css",
        "/nowhere",
    ];
    let of_job = ["", "/answer", "/undo", "/note", "/photo", "/instruments", "/close", "/reopen"]
        .map(|act| format!("{job}{act}"));
    let names = [
        "state", "fault", "severity", "air", "take", "probe", "question", "typed", "word", "text", "name", "machine",
        "work", "key", "before",
    ];
    let values = [
        "",
        "0",
        "-1e999",
        "NaN",
        "held",
        "volts@held:starter.plus,frame",
        "try:clean@frame-bolt",
        "motor-cable:open",
        "\u{0}\u{202e}%00",
        "999999999999",
        "<\"'&>",
        "curlew",
        "skip",
        "fixed",
        "=@:",
    ];
    let mut state = 0x9E37_79B9_7F4A_7C15_u64;
    let mut draw = |among: usize| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state % among as u64) as usize
    };
    for round in 0..400 {
        let at = draw(paths.len() + of_job.len());
        let path = paths.get(at).map_or_else(|| of_job[at - paths.len()].clone(), |path| (*path).to_owned());
        let fields: Vec<(&str, &str)> =
            (0..draw(4)).map(|_| (names[draw(names.len())], values[draw(values.len())])).collect();
        let query: Vec<String> =
            fields.iter().map(|(name, text)| format!("{}={}", encoded(name), encoded(text))).collect();
        let answer = match draw(3) {
            0 => served.get(&format!("{path}?{}", query.join("&"))),
            1 => served.form(&path, &[fields.as_slice(), &[("seal", seal.as_str())]].concat(), ""),
            _ => served.request(
                ["PUT", "HEAD", "OPTIONS", "POST"][draw(4)],
                &path,
                "Content-Type: multipart/form-data; boundary=x\r\n",
                b"--x\r\n\xff\x00",
            ),
        };
        assert!((200..500).contains(&answer.status), "{round}: {path} {fields:?}: {} {}", answer.status, answer.body);
    }
    for raw in [
        &b"GET / HTTP/1.1\r\nConnection: close\r\n\r\n"[..],
        b"\xff\xfe\r\n\r\n",
        b"GET http://evil.example/ HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n",
    ] {
        let answer = served.raw(raw);
        assert!(answer.status < 500, "{}", answer.head);
    }
    assert_eq!(served.get("/").status, 200);
}

/// With a certificate nothing goes over the network in the clear, and the machine has a name.
#[test]
fn over_https_by_its_name_with_the_certificate_that_was_given() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("serve-tls-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    let made = rcgen::generate_simple_self_signed(vec!["bench.school.example".to_owned()]).unwrap();
    let (certificate, key) = (folder.join("bench.pem"), folder.join("bench.key"));
    std::fs::write(&certificate, made.cert.pem()).unwrap();
    std::fs::write(&key, made.signing_key.serialize_pem()).unwrap();
    let command = |certificate: &Path, key: &Path| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_probewright"));
        command.args(["serve", "--port", "0", "--name", "bench.school.example", "--certificate"]).arg(certificate);
        command.arg("--key").arg(key).env("XDG_DATA_HOME", &folder).env("XDG_CONFIG_HOME", "/nonexistent");
        command.stdin(Stdio::null()).stderr(Stdio::piped());
        command
    };
    // A key where the certificate should be is refused before anything is served.
    let refused = command(&key, &certificate).output().unwrap();
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(refused.status.code() == Some(78) && said.contains("no certificate in it"), "{said}");

    let mut child = command(&certificate, &key).spawn().unwrap();
    let mut lines = BufReader::new(child.stderr.take().unwrap()).lines().map(|line| line.unwrap());
    let line = lines.next().unwrap();
    let port = line.trim_end_matches('/').rsplit(':').next().unwrap().to_owned();
    assert!(line.contains("https://bench.school.example:"), "{line}");
    std::thread::spawn(move || lines.for_each(drop));
    let served = Served { child, address: format!("127.0.0.1:{port}"), folder };
    let mut roots = rustls::RootCertStore::empty();
    roots.add(made.cert.der().clone()).unwrap();
    let provider = std::sync::Arc::new(rustls::crypto::ring::default_provider());
    let trusting = rustls::ClientConfig::builder_with_provider(provider).with_safe_default_protocol_versions().unwrap();
    let trusting = std::sync::Arc::new(trusting.with_root_certificates(roots).with_no_client_auth());
    let asked = |host: &str| {
        let name = "bench.school.example".try_into().unwrap();
        let mut session = rustls::ClientConnection::new(trusting.clone(), name).unwrap();
        let mut stream = TcpStream::connect(&served.address).unwrap();
        let mut stream = rustls::Stream::new(&mut session, &mut stream);
        let request = format!("GET / HTTP/1.1\r\nHost: {host}:{port}\r\nConnection: close\r\n\r\n");
        stream.write_all(request.as_bytes()).unwrap();
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        String::from_utf8_lossy(&answer).into_owned()
    };
    assert!(asked("bench.school.example").starts_with("HTTP/1.1 200"), "{}", asked("bench.school.example"));
    assert!(asked("evil.example").starts_with("HTTP/1.1 421"));
    let plain = served.get("/");
    assert!(plain.status != 200 && !plain.body.contains("Machines"), "in the clear: {}", plain.head);
}

/// Beyond its own machine only paired browsers get in. Every address of 127.0.0.0/8 is this machine's own; what answers
/// at another one is asked from there.
#[test]
fn a_browser_elsewhere_gets_in_by_the_code_on_the_console_once() {
    let Some(outward) = outward() else { return };
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("serve-pair-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    let mut child = Command::new(env!("CARGO_BIN_EXE_probewright"))
        .args(["serve", "--port", "0", "--listen", &outward])
        .env("XDG_DATA_HOME", &folder)
        .stdin(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stderr.take().unwrap()).lines().map(|line| line.unwrap());
    let code: String = lines.next().unwrap().chars().filter(char::is_ascii_digit).collect();
    let line = lines.find(|line| line.contains("workbench: http://")).unwrap();
    let address = line.split("http://").nth(1).unwrap().trim_end_matches('/').to_owned();
    std::thread::spawn(move || lines.for_each(drop));
    let served = Served { child, address, folder };
    let first = served.get("/");
    assert_eq!((first.status, first.location().as_str()), (303, "/pair"), "{}", first.body);
    assert!(served.get("/pair").body.contains("whoever listens"));
    assert_eq!(served.form("/pair", &[("code", "00000000")], "").status, 403);
    let paired = served.form("/pair", &[("code", &code)], "");
    assert_eq!(paired.status, 303, "{}", paired.body);
    assert!(paired.head.contains("HttpOnly") && paired.head.contains("SameSite=Strict"), "{}", paired.head);
    let cookie = paired.head.split("set-cookie: ").nth(1).unwrap().split(';').next().unwrap();
    assert_eq!(served.request("GET", "/", &format!("Cookie: {cookie}\r\n"), b"").status, 200);
    assert_eq!(served.request("GET", "/", &format!("Cookie: {cookie}0\r\n"), b"").status, 303);
    assert_eq!(served.form("/pair", &[("code", &code)], "").status, 403, "a code is good once");
    let refused: Vec<u16> =
        (0..1000).map(|number| served.form("/pair", &[("code", &format!("{number:08}"))], "").status).collect();
    assert!(refused.iter().all(|status| matches!(status, 403 | 429)) && refused.ends_with(&[429]), "{refused:?}");
}

/// An address of this machine that is not its loopback; nothing where it has none.
fn outward() -> Option<String> {
    // No packet is sent: the system only says from where it would be.
    let socket = std::net::UdpSocket::bind("0.0.0.0:0").ok()?;
    socket.connect("192.0.2.1:9").ok()?;
    let address = socket.local_addr().ok()?.ip();
    (!address.is_loopback() && !address.is_unspecified()).then(|| address.to_string())
}
