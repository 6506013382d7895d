"""Mails through a real mail server: handed to Postfix over TLS with a password, read from its Maildir and over
IMAP from Dovecot, and what Postfix sends back read again.

Starts both on free loopback ports with all their files in a folder of its own, which needs root. Needs Debian's
postfix and dovecot-imapd, and dkimpy with PyNaCl (PyPI).

    python3 tests/real_mail_server.py PROGRAM

PROGRAM is the gudgeon binary. The last line is `N passed, N failed`.
"""

import contextlib
import email
import email.policy
import imaplib
import os
import pathlib
import pwd
import shutil
import smtplib
import socket
import socketserver
import ssl
import subprocess
import sys
import tempfile
import threading
import time

import dkim

from browser import make_demonstration

PATIENCE_SECONDS = 30
USER, PASSWORD = "reports", "correct horse battery"
# Where mails go that Postfix takes and then cannot deliver.
BOUNCING = "nobody.example"
SIGNED = ["from", "subject", "to", "date", "reply-to", "message-id", "mime-version", "content-type", "list-id",
          "list-unsubscribe", "list-unsubscribe-post", "auto-submitted", "from", "subject", "to", "date"]
ONCE = ["From", "To", "Date", "Message-ID", "Subject", "Reply-To", "MIME-Version", "Auto-Submitted", "List-Id",
        "List-Unsubscribe", "List-Unsubscribe-Post", "X-Auto-Response-Suppress", "DKIM-Signature"]

results = []


def check(name, holds, found=None):
    """Notes one check, and what was found if it does not hold."""
    results.append(holds)
    print(f"{'ok' if holds else 'FAILED'}: {name}" + ("" if holds else f": found {found!r}"), flush=True)


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_for(what, done):
    """What `done` gives, once that is something."""
    until = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < until:
        if found := done():
            return found
        time.sleep(0.05)
    raise TimeoutError(what)


def openssl(*arguments, **options):
    return subprocess.run(["openssl", *map(str, arguments)], check=True, capture_output=True, **options).stdout


def make_keys(folder):
    """An authority, a certificate of it for this machine, another authority, and keys to sign mails with."""
    for name in ("authority", "stranger"):
        openssl("req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", f"/CN={name}",
                "-addext", "basicConstraints=critical,CA:TRUE", "-addext", "keyUsage=critical,keyCertSign",
                "-keyout", folder / f"{name}.key", "-out", folder / f"{name}.pem")
    (folder / "names").write_text("subjectAltName=DNS:localhost,IP:127.0.0.1\nbasicConstraints=CA:FALSE\n")
    openssl("req", "-newkey", "rsa:2048", "-nodes", "-subj", "/CN=localhost",
            "-keyout", folder / "server.key", "-out", folder / "server.csr")
    openssl("x509", "-req", "-in", folder / "server.csr", "-CA", folder / "authority.pem",
            "-CAkey", folder / "authority.key", "-CAcreateserial", "-days", "2", "-extfile", folder / "names",
            "-out", folder / "server.pem")
    openssl("genrsa", "-out", folder / "rsa.pem", "2048")
    openssl("genpkey", "-algorithm", "ed25519", "-out", folder / "ed25519.pem")


def public_key(path):
    """What is published of a key, in base64: RFC 6376 section 3.6.1, RFC 8463 section 4.2."""
    der = openssl("pkey", "-in", path, "-pubout", "-outform", "DER")
    plain = der[-32:] if "ed25519" in path.name else der
    return openssl("base64", "-A", input=plain).decode()


POSTFIX = """\
compatibility_level = 3.6
queue_directory = {folder}/queue
data_directory = {folder}/data
command_directory = /usr/sbin
daemon_directory = /usr/lib/postfix/sbin
maillog_file = {folder}/postfix.log
maillog_file_prefixes = {folder}
myhostname = mail.example.org
mydestination =
inet_interfaces = 127.0.0.1
inet_protocols = ipv4
recipient_delimiter = +
alias_maps =
local_recipient_maps =
transport_maps = inline:{{ {{{bouncing} = smtp:[127.0.0.1]:{refusing}}} }}
virtual_mailbox_domains = static:all
virtual_mailbox_maps = regexp:{folder}/boxes
virtual_mailbox_base = {folder}/mail
virtual_uid_maps = static:{uid}
virtual_gid_maps = static:{gid}
virtual_minimum_uid = 1
smtpd_tls_cert_file = {folder}/server.pem
smtpd_tls_key_file = {folder}/server.key
smtpd_tls_security_level = encrypt
smtpd_tls_auth_only = yes
smtpd_sasl_auth_enable = yes
smtpd_sasl_type = dovecot
smtpd_sasl_path = private/auth
smtpd_relay_restrictions = permit_sasl_authenticated, reject
smtpd_recipient_restrictions = permit_sasl_authenticated, reject
"""
MASTER = """\
127.0.0.1:{starttls} inet n - n - - smtpd
127.0.0.1:{tls} inet n - n - - smtpd -o smtpd_tls_wrappermode=yes
cleanup unix n - n - 0 cleanup
qmgr unix n - n 300 1 qmgr
rewrite unix - - n - - trivial-rewrite
bounce unix - - n - 0 bounce
defer unix - - n - 0 bounce
trace unix - - n - 0 bounce
verify unix - - n - 1 verify
flush unix n - n 1000? 0 flush
proxymap unix - - n - - proxymap
error unix - - n - - error
smtp unix - - n - - smtp
retry unix - - n - - error
virtual unix - n n - - virtual
anvil unix - - n - 1 anvil
tlsmgr unix - - n 1000? 1 tlsmgr
postlog unix-dgram n - n - 1 postlogd
"""
DOVECOT = """\
protocols = imap
listen = 127.0.0.1
base_dir = {folder}/dovecot
state_dir = {folder}/dovecot
log_path = {folder}/dovecot.log
ssl = yes
ssl_cert = <{folder}/server.pem
ssl_key = <{folder}/server.key
first_valid_uid = 1
mail_location = maildir:{folder}/mail/box
auth_mechanisms = plain login
passdb {{
  driver = passwd-file
  args = scheme=plain {folder}/users
}}
userdb {{
  driver = static
  args = uid={uid} gid={gid} home={folder}/mail
}}
service imap-login {{
  chroot =
  inet_listener imap {{
    port = {imap}
  }}
  inet_listener imaps {{
    port = 0
  }}
}}
service auth {{
  unix_listener {folder}/queue/private/auth {{
    mode = 0666
  }}
}}
"""


class Refusing(socketserver.StreamRequestHandler):
    """Another mail server, at which there is nobody."""

    def handle(self):
        self.wfile.write(b"220 nobody.example\r\n")
        for line in self.rfile:
            refused = line.upper().startswith(b"RCPT")
            self.wfile.write(b"550 5.1.1 there is nobody here\r\n" if refused else b"250 fine\r\n")
            if line.upper().startswith(b"QUIT"):
                return


@contextlib.contextmanager
def mail_server(folder):
    """Postfix and Dovecot in a folder; gives their ports."""
    folder.chmod(0o755)
    nobody = pwd.getpwnam("nobody")
    ports = {"starttls": free_port(), "tls": free_port(), "imap": free_port()}
    refusing = socketserver.ThreadingTCPServer(("127.0.0.1", 0), Refusing)
    refusing.daemon_threads = True
    threading.Thread(target=refusing.serve_forever, daemon=True).start()
    known = {"refusing": refusing.server_address[1], "folder": folder, "uid": nobody.pw_uid, "gid": nobody.pw_gid, "bouncing": BOUNCING, **ports}
    for name in ("postfix", "queue", "data", "mail", "dovecot"):
        (folder / name).mkdir()
    shutil.chown(folder / "data", "postfix")
    shutil.chown(folder / "mail", nobody.pw_uid, nobody.pw_gid)
    (folder / "postfix/main.cf").write_text(POSTFIX.format(**known))
    (folder / "postfix/master.cf").write_text(MASTER.format(**known))
    (folder / "boxes").write_text("/^bounces[+]/ bounces/\n/@/ box/\n")
    (folder / "dovecot.conf").write_text(DOVECOT.format(**known))
    (folder / "users").write_text(f"{USER}:{PASSWORD}\n")
    (folder / "password").write_text(f"{PASSWORD}\n")
    (folder / "wrong-password").write_text("not it\n")
    subprocess.run(["postfix", "-c", str(folder / "postfix"), "start"], check=True, capture_output=True)
    try:
        dovecot = subprocess.Popen(["dovecot", "-F", "-c", str(folder / "dovecot.conf")])
        try:
            for port in ports.values():
                wait_for(f"port {port}", lambda port=port: socket.socket().connect_ex(("127.0.0.1", port)) == 0)
            yield ports
        finally:
            dovecot.terminate()
            dovecot.wait()
    finally:
        subprocess.run(["postfix", "-c", str(folder / "postfix"), "stop"], check=True, capture_output=True)


class Site:
    """The demonstration's folder, with its settings written anew for each way of sending."""

    def __init__(self, program, folder, server):
        self.program, self.folder, self.server = program, folder, server
        make_demonstration(program, folder)
        (folder / "secret").write_bytes(os.urandom(32))
        settings = (folder / "gudgeon.toml").read_text().split("[mail]")[0].split("[links]")[0]
        self.settings = f'{settings}[links]\nsecret-file = "secret"\n'

    def run(self, *arguments, **options):
        command = [self.program, "--dir", str(self.folder), *arguments]
        return subprocess.run(command, capture_output=True, text=True, **options)

    def use(self, port, security="starttls", key="rsa", authority="authority.pem", password="password"):
        authority = f'ca-file = "{self.server}/{authority}"\n' if authority else ""
        (self.folder / "gudgeon.toml").write_text(f"""{self.settings}[mail]
from = "Engine reports <reports@example.org>"
reply-to = "Workshop <shop@example.org>"
bounces = "bounces@example.org"
[mail.smtp]
host = "localhost"
port = {port}
security = "{security}"
user = "{USER}"
password-file = "{self.server}/{password}"
{authority}[mail.dkim]
selector = "s1"
key-file = "{self.server}/{key}.pem"
""")


def mails_in(box):
    """The mails in a Maildir, whether somebody has looked or not."""
    return sorted(path for place in ("new", "cur") for path in (box / place).glob("*"))


def message_of(raw):
    return email.message_from_bytes(raw, policy=email.policy.default)


def is_signed(raw, record):
    return dkim.verify(raw, dnsfunc=lambda name, timeout=5: record)


def check_mail(raw, record, fault):
    """One mail as its reader gets it."""
    message = message_of(raw)
    for part in message.walk():
        for defect in part.defects:
            fault(f"{part.get_content_type()}: {type(defect).__name__}")
        for name, value in part.items():
            if value.defects:
                fault(f"{name}: {value.defects}")
    for name in ONCE:
        if len(message.get_all(name, [])) != 1:
            fault(f"{name} {len(message.get_all(name, []))} times")
    if not is_signed(raw, record):
        fault("its signature does not verify")
    tags = dict(tag.strip().split("=", 1) for tag in message["DKIM-Signature"].split(";"))
    if tags["h"].split(":") != SIGNED or tags["c"] != "relaxed/relaxed" or "l" in tags:
        fault(f"signed: {tags}")
    for name in (b"\nList-Unsubscribe: <http", b"\nList-Unsubscribe-Post: ", b"\nList-Id: ", b"\nSubject: ", b"\nAuto-Submitted: "):
        at = raw.index(name) + len(name)
        if is_signed(raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1:], record):
            fault(f"{name} can be changed")
    if is_signed(b"Subject: another\r\n" + raw, record) or is_signed(raw + b"more\r\n", record):
        fault("something can be added")
    calendars = [part for part in message.walk() if part.get_content_type() == "text/calendar"]
    # Owners have a calendar, workshops and inspectors none.
    wanted = [True] if "<owner-weekly." in message["List-Id"] else []
    if [part.get_content().startswith("BEGIN:VCALENDAR") for part in calendars] != wanted:
        fault(f"{len(calendars)} calendars")
    return message


def written(said):
    """How many mails left."""
    return int(said.stdout.split(" mails written")[0].split()[-1])


def refusals(site, ports, box):
    """What must not be sent."""
    for name, use, words in [
        ("by an authority that the system does not know", {"authority": None}, "UnknownIssuer"),
        ("by another authority than the settings name", {"authority": "stranger.pem"}, "UnknownIssuer"),
        ("whose password is wrong", {"password": "wrong-password"}, "does not let `reports` in: 535"),
    ]:
        site.use(ports["starttls"], **use)
        said = site.run("deliver", "--release")
        told = said.stdout + said.stderr
        check(f"nothing is sent to a server {name}", not mails_in(box), len(mails_in(box)))
        check("and that is said", words in told, told)
        check("without the password", PASSWORD not in told and "not it" not in told, told)


def delivered(site, ports, box, records):
    """The reports of one week to a Maildir, parsed, verified, and read over IMAP."""
    site.run("week", "2032-W10", "--as-of", "2032-03-03", "--now", check=True)
    # Six years on almost everything is overdue: somebody has to look before that is mailed.
    said = site.run("deliver")
    check("mails that would surprise are on hold", "mails are on hold" in said.stdout, said.stdout + said.stderr)
    refusals(site, ports, box)
    site.use(ports["starttls"])
    said = site.run("deliver")
    queued = written(said)
    check("many are taken, and none fails", queued > 15 and "cannot be delivered" not in said.stdout, said)
    wait_for("mails in the Maildir", lambda: len(mails_in(box)) >= queued)
    raws = [path.read_bytes().replace(b"\n", b"\r\n") for path in mails_in(box)]
    # What the server puts in front (RFC 5321, section 4.4, and its own) is not signed and not ours.
    faults, senders = [], set()
    for raw in raws:
        message = check_mail(raw, records["rsa"], faults.append)
        senders.add(message["Return-Path"])
        if message["Delivered-To"] != message["To"].addresses[0].addr_spec:
            faults.append(f"to {message['To']}, delivered to {message['Delivered-To']}")
    check("every mail is whole, signed and addressed to its reader", not faults, faults[:5])
    kinds = {message_of(raw)["List-Id"].partition("<")[2].partition("-")[0] for raw in raws}
    check("they are of three kinds", kinds == {"owner", "shop", "inspector"}, kinds)
    check("each comes back to an address of its own", len(senders) == queued, senders)
    check("which is one of ours", all(it.startswith("<bounces+") for it in senders), senders)
    with imaplib.IMAP4("127.0.0.1", ports["imap"]) as imap:
        trusted = ssl.create_default_context(cafile=str(box.parent.parent / "authority.pem"))
        trusted.check_hostname = False
        imap.starttls(trusted)
        imap.login(USER, PASSWORD)
        imap.select("INBOX", readonly=True)
        _, numbers = imap.search(None, "ALL")
        read = [imap.fetch(number, "(RFC822)")[1][0][1] for number in numbers[0].split()]
    check("the same mails are read over IMAP", sorted(read) == sorted(raws), len(read))
    again = site.run("deliver")
    check("none is sent again", "0 mails" in again.stdout, again.stdout)


def trial(site, ports, box, records):
    """`send-test`, over TLS from the first byte, signed by the other kind of key."""
    before = set(mails_in(box))
    site.use(ports["tls"], security="tls", key="ed25519")
    said = site.run("send-test", "somebody@example.net")
    check("a test mail is taken", said.returncode == 0 and "took the test mail" in said.stdout, said)
    (path,) = wait_for("the test mail", lambda: set(mails_in(box)) - before)
    raw = path.read_bytes().replace(b"\n", b"\r\n")
    check("it says TEST", "TEST" in message_of(raw)["Subject"], message_of(raw)["Subject"])
    check("it is signed by Ed25519", is_signed(raw, records["ed25519"]))
    site.use(ports["starttls"], security="tls")
    said = site.run("send-test", "somebody@example.net")
    check("TLS to a port of STARTTLS is told and not sent", said.returncode == 3, said)
    said = site.run("send-test", "nobody at all")
    check("a wrong address is told", "no mail address" in said.stderr, said)


def returned(site, ports, folder):
    """Mails that Postfix sends back, counted until their address is closed."""
    inbox, before = folder / "mail/box", len(mails_in(folder / "mail/box"))
    site.use(ports["starttls"])
    site.run("week", "2032-W11", "--as-of", "2032-03-10", "--now", check=True)
    queued = written(site.run("deliver", check=True))
    wait_for("the mails of another week", lambda: len(mails_in(inbox)) >= before + queued)
    paths = {}
    for message in (message_of(path.read_bytes()) for path in mails_in(inbox)):
        paths.setdefault(message["To"].addresses[0].addr_spec, []).append(message["Return-Path"].strip("<>"))
    twice = next(tags for tags in paths.values() if len(tags) == 2)
    sender = smtplib.SMTP("localhost", ports["starttls"])
    trusted = ssl.create_default_context(cafile=str(folder / "authority.pem"))
    sender.starttls(context=trusted)
    sender.login(USER, PASSWORD)
    # The mails of two weeks to one owner leave as they were; only where they go is an address that bounces them.
    for tag in twice * 2:
        sender.sendmail(tag, f"owner@{BOUNCING}", "Subject: x\r\n\r\nx\r\n")
    sender.quit()
    box = folder / "mail/bounces"
    wait_for("four mails that come back", lambda: len(mails_in(box)) >= 4)
    said = site.run("bounces", "--folder", str(box))
    check("each mail that came back counts once",
          "4 mails read: 2 say that one failed for good, 0 that one failed for now, 2 were known" in said.stdout,
          said)
    check("after two, the owner is written to no more there", "is written to no more at this address" in said.stdout,
          said)
    check("they are moved", not list((box / "new").glob("*")) and len(list((box / "cur").glob("*:2,S"))) == 4, said)
    one = next((box / "cur").glob("*")).read_text()
    said = site.run("bounces", input=one)
    check("one can be piped in", "1 mails read" in said.stdout and "1 were known" in said.stdout, said)
    (site.folder / "gudgeon.toml").rename(site.folder / "away.toml")
    said = site.run("bounces", input=one)
    check("and again when it could not be read", said.returncode == 75, said)
    (site.folder / "away.toml").rename(site.folder / "gudgeon.toml")


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    with tempfile.TemporaryDirectory() as temporary:
        folder, site_folder = pathlib.Path(temporary) / "server", pathlib.Path(temporary) / "site"
        os.chmod(temporary, 0o755)
        folder.mkdir()
        make_keys(folder)
        keys = {"rsa": "rsa", "ed25519": "ed25519"}
        records = {name: f"v=DKIM1; k={kind}; p={public_key(folder / f'{name}.pem')}".encode()
                   for name, kind in keys.items()}
        with mail_server(folder) as ports:
            site = Site(program, site_folder, folder)
            delivered(site, ports, folder / "mail/box", records)
            trial(site, ports, folder / "mail/box", records)
            returned(site, ports, folder)
    print(f"{sum(results)} passed, {len(results) - sum(results)} failed")
    return 0 if all(results) else 1


if __name__ == "__main__":
    sys.exit(main())
