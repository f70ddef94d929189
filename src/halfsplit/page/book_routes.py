"""What is written into the journal on the page: work, notes, answers, photos, and what is withdrawn."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from halfsplit import jobs
from halfsplit.errors import InputError, Mistake
from halfsplit.history import QUESTIONS, Told
from halfsplit.page.answers import desk_of, partials
from halfsplit.page.entry_routes import Act, acting
from halfsplit.page.sheet import LIVING, view_of

KEPT = (*LIVING, "book_said", "book_forms!", "pulse")
HELD = ("did", "note", "told")
PHOTO_HEADERS = {
    "content-security-policy": "default-src 'none'; sandbox",
    "content-disposition": "inline",
    "cache-control": "private, max-age=86400, immutable",
}


def answered(act: Act, kept: str) -> Response:
    """The sections that an entry of the journal changes."""
    view = view_of(act.request)
    if not act.request.headers.get("hx-request"):
        return RedirectResponse(f"{view.base()}#journal", 303)
    return partials(view, KEPT, kept=kept)


def troubled(act: Act, problem: object) -> Response:
    """What went wrong, said in the journal."""
    return partials(view_of(act.request), ("book_said",), problem=problem)


def hold(act: Act) -> Response:
    """POST .../book/hold/FORM: hold what is being written."""
    form = act.request.path_params["form"]
    if form in HELD:
        act.drafts.save(act.name, form, {k: v[:2000] for k, v in act.form.items() if v})
    return Response(status_code=204)


def did(act: Act) -> Response:
    """POST .../book/did: what was done to the unit."""
    word, place, value, note = (act.form.get(k, "").strip() for k in ("word", "place", "value", "note"))
    if not place:
        raise InputError(Mistake("where", "nothing", "the part, joint or cable that was worked on"))
    done = jobs.did(act.path, [f"{word} {place}"], value, note, None, desk_of(act.request).clock)
    act.drafts.drop(act.name, "did")
    return answered(act, f"{done[0].key}, {done[0].text}")


def note(act: Act) -> Response:
    """POST .../book/note: a line of the journal, also to a reading or to work."""
    about, text = act.form.get("about", "").strip(), act.form.get("note", "").strip()
    if not text:
        raise InputError(Mistake("note", "nothing", "what was seen or thought, in one line"))
    kept = jobs.note(act.path, f"{about}: {text}" if about else text, desk_of(act.request).clock)
    if not about:
        act.drafts.drop(act.name, "note")
    return answered(act, f"a note: {kept}")


def tell(act: Act) -> Response:
    """POST .../book/told: answers about complaint and history; what stands there already is not told again."""
    view = view_of(act.request)
    known = {a.question: set() for a in view.book.answers}  # type: dict[str, set[str]]
    for a in view.book.answers:
        if a.withdrawn is None:
            known[a.question].add(a.answer)
    told = [
        Told(q.text, q.key, text)
        for q in QUESTIONS
        if (text := act.form.get(q.key, "").strip()) and text != ", ".join(known.get(q.key, ()))
    ]
    if not told:
        raise InputError(Mistake("complaint and history", "no new answer", "at least one"))
    kept = jobs.tell(act.path, told, desk_of(act.request).clock)
    act.drafts.drop(act.name, "told")
    return answered(act, "; ".join(f"{a.key}, {a.question} = {a.answer}" for a in kept))


def withdraw(act: Act) -> Response:
    """POST .../book/withdraw: with the reason; it stays in the journal and no longer counts."""
    key = act.form.get("key", "")
    jobs.withdraw(act.path, key, act.form.get("reason", ""), desk_of(act.request).clock)
    return answered(act, f"{key} is withdrawn")


def photo_in(act: Act) -> Response:
    """POST .../book/photo: photos, to a reading, to work, or to the unit."""
    if not act.files:
        raise InputError(Mistake("photo", "none was sent", "a JPEG or PNG file"))
    about, caption = act.form.get("about", ""), act.form.get("caption", "")
    clock = desk_of(act.request).clock
    keys = [jobs.attach(act.path, name, data, about, caption, clock).key for name, data in act.files]
    return answered(act, f"photo {', '.join(keys)}")


def photo_out(request: Request) -> Response:
    """GET /job/NAME/photo/KEY: a photo as it came; what it is was found out from its bytes when it came in."""
    path = desk_of(request).job(request.path_params["name"])
    found, data = jobs.attachment(path, request.path_params["key"])
    return Response(data, media_type=found.media, headers=PHOTO_HEADERS)


BASE = "/job/{name}"
ROUTES = [
    Route(f"{BASE}/photo/{{key}}", photo_out),
    Route(f"{BASE}/book/hold/{{form}}", acting(hold, troubled), methods=["POST"]),
    Route(f"{BASE}/book/did", acting(did, troubled), methods=["POST"]),
    Route(f"{BASE}/book/note", acting(note, troubled), methods=["POST"]),
    Route(f"{BASE}/book/told", acting(tell, troubled), methods=["POST"]),
    Route(f"{BASE}/book/withdraw", acting(withdraw, troubled), methods=["POST"]),
    Route(f"{BASE}/book/photo", acting(photo_in, troubled), methods=["POST"]),
]
