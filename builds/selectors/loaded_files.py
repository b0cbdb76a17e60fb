"""What is loaded into the programmable devices of a build, as the core takes it."""

from builds.engineering.functions.loaded_files import LoadedFile
from builds.models import Build
from builds.models import LoadedFile as LoadedFileRow

__all__ = ["loaded_files_of", "newest_loadings"]


def newest_loadings(build: Build) -> list[LoadedFileRow]:
    """Return the latest loading of each device that is still in the vehicle, in the order of their serials."""
    rows = LoadedFileRow.objects.filter(serial__build=build, serial__replaced_by__isnull=True)
    rows = rows.select_related("serial__part_line", "loaded_by", "read_back_by").order_by("loaded_at", "pk")
    newest = {row.serial_id: row for row in rows}
    return sorted(newest.values(), key=lambda row: (row.serial.part_line_id, row.serial.serial))


def loaded_files_of(build: Build) -> tuple[LoadedFile, ...]:
    """Return the latest loading of each device as the core takes it."""
    return tuple(
        LoadedFile(
            serial=row.serial.serial,
            device=row.serial.part_line.description or row.serial.part_line.key,
            part_line=row.serial.part_line.key,
            file_name=row.file_name,
            file_sha256=row.file_sha256,
            file_version=row.file_version,
            firmware=row.firmware,
            loaded_by=row.loaded_by.get_full_name() or row.loaded_by.username,
            loaded_at=row.loaded_at.isoformat(),
            schedule_sha256=row.schedule_sha256,
            read_back_by=(row.read_back_by.get_full_name() or row.read_back_by.username) if row.read_back_by else "",
            read_back_at=row.read_back_at.isoformat() if row.read_back_at else "",
        )
        for row in newest_loadings(build)
    )
