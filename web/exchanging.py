"""The desk's page for taking the casebook out and taking cases in, and the jobs that do it."""

import shutil
from collections.abc import AsyncIterator, Callable
from functools import partial
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import FileResponse, HTMLResponse, Response

from casebook.archive import export_archive, import_archive
from casebook.exchange import import_case
from casebook.problems import FileRefused
from casebook.progress import Progress
from casebook.spreadsheet import export_csv

from . import signing_in
from .forms import FieldProblem, Form
from .jobs import Busy, Job, Jobs, Made, Work
from .site import Site, see_other
from .uploads import Upload, read_desk_upload

LARGEST_IMPORT = 64_000_000
"""Bytes of an archive that a page takes; the command line takes larger ones."""
LARGEST_YAML = 1_000_000
LOOK_AGAIN_S = 2
ZIP_BEGINS = b"PK"


def exchanging(site: Site) -> APIRouter:
    """Archives out and in, tables out."""
    router = APIRouter(
        prefix="/desk/exchange", include_in_schema=False, default_response_class=HTMLResponse
    )
    jobs = Jobs()

    def signed_in(request: Request) -> str:
        return signing_in.require_instructor(site, request)

    # Annotations are evaluated as they stand in this module: these names are local.
    Who = Annotated[str, Depends(signed_in)]

    async def with_file(request: Request, who: Who) -> AsyncIterator[Upload]:
        # Who is asked first: nothing of a stranger's upload is read.
        async for upload in read_desk_upload(request, file="file", most=LARGEST_IMPORT):
            yield upload

    def show(request: Request, problems: list[FieldProblem], status: int = 200) -> Response:
        return signing_in.desk_page(
            site,
            request,
            "exchange.html",
            problems=problems,
            status=status,
            megabytes=LARGEST_IMPORT // 1_000_000,
        )

    def begin(title: str, work: Work, bring: Callable[[Path], None] | None = None) -> Response:
        try:
            job = jobs.start(title, work, bring=bring)
        except Busy as busy:
            job = busy.job
        return see_other(f"/desk/exchange/jobs/{job.id}")

    @router.get("")
    def page(request: Request, who: Who) -> Response:
        return show(request, [])

    @router.post("/archive")
    def archive(request: Request, who: Who, form: Form) -> Response:
        return begin("Making the archive", _saved(site, ".zip", export_archive, "the archive."))

    @router.post("/table")
    def table(request: Request, who: Who, form: Form) -> Response:
        return begin(
            "Making the table", _saved(site, ".csv", export_csv, "the table, one line each.")
        )

    @router.post("/import")
    def take_in(
        request: Request, who: Who, upload: Annotated[Upload, Depends(with_file)]
    ) -> Response:
        if upload.empty:
            problem = "Choose a file first: an archive (.zip) or one case (.yaml)."
            return show(request, [FieldProblem("file", problem)], 422)
        if upload.too_large:
            problem = (
                f"The file takes {upload.size / 1e6:.0f} MB; up to "
                f"{LARGEST_IMPORT // 1_000_000} MB are taken here. Take a larger one in at the "
                "computer itself: python -m casebook import FILE."
            )
            return show(request, [FieldProblem("file", problem)], 422)
        # Only its last part: some browsers send a whole path. Never used as a path here.
        name = upload.name.replace("\\", "/").rpartition("/")[2][:80] or "The file"
        return begin(f"Taking in {name}", _import(site, name), partial(_bring, upload))

    @router.get("/jobs/{id}")
    def job_page(request: Request, who: Who, id: str) -> Response:
        job = _known(jobs, id)
        page = signing_in.desk_page(
            site,
            request,
            "exchange_job.html",
            job=job,
            over=job.over.is_set(),
        )
        if not job.over.is_set():
            page.headers["Refresh"] = str(LOOK_AGAIN_S)
        return page

    @router.get("/jobs/{id}/file")
    def job_file(request: Request, who: Who, id: str) -> Response:
        job = _known(jobs, id)
        if job.made is None or job.made.file is None or not job.made.file.is_file():
            raise HTTPException(404, "This file is gone; make it again.")
        return FileResponse(
            job.made.file,
            filename=job.made.name,
            media_type="application/octet-stream",
            headers={"Cache-Control": "no-store"},
        )

    return router


def _known(jobs: Jobs, id: str) -> Job:
    job = jobs.get(id)
    if job is None:
        raise HTTPException(404, "This is over and forgotten; begin it again.")
    return job


def _saved(site: Site, ending: str, export: Callable[..., int], where: str) -> Work:
    """All cases in one file, named after the day."""
    name = f"casebook-{site.now().astimezone():%Y-%m-%d}{ending}"

    def work(progress: Progress, folder: Path) -> Made:
        path = folder / f"casebook{ending}"
        count = export(site.store, path, progress=progress)
        return Made(f"{_cases(count)} in {where}", path, name)

    return work


_BROUGHT = "brought"


def _bring(upload: Upload, folder: Path) -> None:
    upload.file.seek(0)
    with (folder / _BROUGHT).open("wb") as out:
        shutil.copyfileobj(upload.file, out)


def _import(site: Site, name: str) -> Work:
    """Take in what was brought, an archive or one case: by what is in it, whatever its name."""

    def work(progress: Progress, folder: Path) -> Made:
        path = folder / _BROUGHT
        with path.open("rb") as opened:
            zipped = opened.read(len(ZIP_BEGINS)) == ZIP_BEGINS
        try:
            if zipped:
                taken = import_archive(site.store, path, progress=progress)
                return Made(f"Cases: {taken}.")
            return Made(f"The case {import_case(site.store, _text(path), name)} was taken in.")
        except FileRefused as refused:
            # Said of the file as it was sent, not of where it lay here.
            raise FileRefused(str(refused).replace(str(path), name)) from refused
        finally:
            path.unlink(missing_ok=True)

    return work


def _text(path: Path) -> str:
    data = path.read_bytes() if path.stat().st_size <= LARGEST_YAML else None
    if data is None:
        raise FileRefused(
            f"{path} is no ZIP archive, and too large for one case: {LARGEST_YAML:,} bytes are "
            "read."
        )
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as broken:
        raise FileRefused(
            f"{path} is neither a ZIP archive nor UTF-8 text ({broken.reason})."
        ) from broken


def _cases(count: int) -> str:
    return f"{count:,} case{'' if count == 1 else 's'}"
