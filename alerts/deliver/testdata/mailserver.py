"""A mail server for tests: Debian's aiosmtpd, which keeps what it takes in a folder in Maildir form."""
import argparse
import asyncio
import ssl

from aiosmtpd.handlers import Mailbox
from aiosmtpd.smtp import SMTP, AuthResult

args = argparse.ArgumentParser()
args.add_argument("port", type=int)
args.add_argument("folder")
args.add_argument("--cert")
args.add_argument("--key")
args.add_argument("--implicit", action="store_true", help="encrypted from the beginning")
args.add_argument("--password", help="of the user annex, who alone may send")
args.add_argument("--lose", type=int, default=0, help="hang up on so many messages after they are taken, before the answer")
args.add_argument("--refuse", help="a recipient that it does not know")
args = args.parse_args()


class Handler(Mailbox):
    async def handle_RCPT(self, server, session, envelope, address, options):
        if address == args.refuse:
            return "550 5.1.1 nobody of that name"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):
        answer = await super().handle_DATA(server, session, envelope)
        if args.lose > 0:
            args.lose -= 1
            server.transport.abort()
        return answer


def allow(server, session, envelope, mechanism, data):
    known = data.login == b"annex" and data.password == args.password.encode()
    return AuthResult(success=known, handled=known)  # one that is not handled is answered 535


tls = None
if args.cert:
    tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    tls.load_cert_chain(args.cert, args.key)
handler = Handler(args.folder)


def session():
    starttls = None if args.implicit else tls
    return SMTP(handler, tls_context=starttls, require_starttls=bool(starttls), auth_required=bool(args.password),
                auth_require_tls=not args.implicit, authenticator=allow if args.password else None, hostname="mail.test")


async def main():
    server = await asyncio.get_running_loop().create_server(session, "127.0.0.1", args.port, ssl=tls if args.implicit else None)
    print("ready", flush=True)
    await server.serve_forever()

asyncio.run(main())
