"""What a host should say with the files: the policy, how long a browser may keep them, their types.

The files for hosts are written into the site; a host that does not know them serves or ignores them, which
does no harm.
"""

from collections.abc import Mapping
from pathlib import Path

import names

# The strictest policy that everything here works under; DEVELOPERS.md says what each part is needed for.
POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-eval' 'wasm-unsafe-eval' blob:; worker-src 'self' blob:; "
    "style-src 'self'; img-src 'self' data:; font-src 'self' data:; object-src 'none'; base-uri 'none'; "
    "form-action 'none'"
)
# The same in the page itself, for hosts that send nothing of the kind, and with what a start from disk needs:
# there files come from file:, and modules from data:.
IN_PAGE = (
    "default-src 'self' file:; script-src 'self' file: data: blob: 'unsafe-eval' 'wasm-unsafe-eval'; "
    "worker-src 'self' blob:; style-src 'self' file:; img-src 'self' file: data:; font-src 'self' file: data:; "
    "object-src 'none'; base-uri 'none'; form-action 'none'"
)
# Beside the policy.
ALWAYS = {
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}
FOR_EVER = "public, max-age=31536000, immutable"
ASK_FIRST = "no-cache"
# What must be asked for every time beside the pages, which hosts ask for by themselves.
SMALL = ("sw.js", "manifest.webmanifest")
TYPES = {
    "application/wasm": ".wasm",
    "text/javascript": ".js .mjs",
    "application/manifest+json": ".webmanifest",
    "font/woff2": ".woff2",
}

HEADERS = "_headers"
HTACCESS = ".htaccess"


def asking(policy: str, host: str) -> str:
    """A policy under which pages may also fetch from a host, where one is named (docs/hooks/cdn.py)."""
    if not host:
        return policy
    default = policy.partition(";")[0].removeprefix("default-src ")
    scheme, _, rest = host.partition("://")
    return f"{policy}; connect-src {default} {scheme}://{rest.partition('/')[0]}"


def write(site: Path, host: str = "") -> None:
    """Writes the files for hosts into a site that has its final names."""
    always = {"Content-Security-Policy": asking(POLICY, host), **ALWAYS}
    (site / HEADERS).write_text(headers(site, always), encoding="utf-8")
    (site / HTACCESS).write_text(htaccess(always), encoding="utf-8")


def headers(site: Path, always: Mapping[str, str]) -> str:
    """The file of the hosts that read `_headers`. They join what several rules say, so no two speak of one thing."""
    rules = {"/*": always}
    rules |= {f"/{path.name}/*": {"Cache-Control": FOR_EVER} for path in names.folders(site)}
    rules |= {f"/{name}": {"Cache-Control": ASK_FIRST} for name in SMALL}
    lines = []
    for path, said in rules.items():
        lines += [path, *(f"  {name}: {value}" for name, value in said.items()), ""]
    return "\n".join(lines)


def htaccess(always: Mapping[str, str]) -> str:
    """The file for Apache."""
    types = "\n".join(f"AddType {kind} {endings}" for kind, endings in TYPES.items())
    said = "\n".join(f'  Header always set {name} "{value}"' for name, value in always.items())
    hashed = "|".join(names.FOLDERS)
    return (
        f"{types}\n"
        f"<IfModule mod_deflate.c>\n"
        f"  AddOutputFilterByType DEFLATE text/html text/css text/javascript application/wasm image/svg+xml\n"
        f"</IfModule>\n"
        f"<IfModule mod_headers.c>\n{said}\n"
        f'  Header always set Cache-Control "{ASK_FIRST}"\n'
        f'  <If "%{{REQUEST_URI}} =~ m#/(?:{hashed})-[0-9a-f]{{{names.LENGTH}}}/#">\n'
        f'    Header always set Cache-Control "{FOR_EVER}"\n'
        f"  </If>\n"
        f"</IfModule>\n"
    )
