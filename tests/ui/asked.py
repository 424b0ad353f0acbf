"""One request to a web application without a server."""

import asyncio
import gzip


def asked(app, path, method="GET", headers=(), client=None):
    """Return the status, the headers and the body of the answer; a packed one is unpacked."""
    scope = {
        "type": "http", "method": method, "path": path, "raw_path": path.encode(),
        "query_string": b"", "headers": list(headers), "root_path": "", "scheme": "http",
        "client": client,
    }  # fmt: skip
    sent = []

    async def receive():
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message):
        sent.append(message)

    asyncio.run(app(scope, receive, send))
    head = {name.decode(): value.decode() for name, value in sent[0]["headers"]}
    body = b"".join(message.get("body", b"") for message in sent)
    if head.get("content-encoding") == "gzip":
        body = gzip.decompress(body)
    return sent[0]["status"], head, body.decode()
