"""A platform version's rows into the frozen value that the core takes."""

from builds import models
from builds.engineering import design as core
from builds.engineering import vocabulary as words
from builds.selectors.bare_records import optional, records

__all__ = ["platform_of"]


def platform_of(platform: models.PlatformVersion) -> core.Platform:
    """Return a platform version with its zones, routes and no-mount zones."""
    return core.Platform(
        name=platform.name,
        version=platform.version,
        wheelbase_mm=float(platform.wheelbase_mm),
        gvwr_kg=float(platform.gvwr_kg),
        gawr_front_kg=float(platform.gawr_front_kg),
        gawr_rear_kg=float(platform.gawr_rear_kg),
        curb_front_kg=float(platform.curb_front_kg),
        curb_rear_kg=float(platform.curb_rear_kg),
        seats=platform.seats,
        zones=tuple(
            core.Zone(
                key=zone.key,
                name=zone.name,
                ambient_c=float(zone.ambient_c),
                x_mm=float(zone.x_mm),
                y_mm=float(zone.y_mm),
                max_load_kg=optional(zone.max_load_kg),
                sealed=zone.sealed,
            )
            for zone in records(platform.zones.all())
        ),
        routes=tuple(
            core.Route(from_zone=route.from_zone, to_zone=route.to_zone, length_m=float(route.length_m))
            for route in records(platform.routes.all())
        ),
        no_mount_zones=tuple(
            core.NoMountZone(zone=item.zone, name=item.name, guide=item.guide)
            for item in records(platform.no_mount_zones.all())
        ),
        access_points=tuple(map(_access_point, records(platform.access_points.all()))),
        seat_places=tuple(
            core.SeatPlace(name=place.name, seats=place.seats, x_mm=float(place.x_mm), y_mm=float(place.y_mm))
            for place in records(platform.seat_places.all())
        ),
        track_mm=optional(platform.track_mm),
        curb_left_kg=optional(platform.curb_left_kg),
        fuel_kg=float(platform.fuel_kg),
        fuel_x_mm=float(platform.fuel_x_mm),
        jump_posts=platform.jump_posts,
        jump_order=platform.jump_order,
        crank_a=optional(platform.crank_a),
        crank_least_v=optional(platform.crank_least_v),
        crank_cable_mohm=optional(platform.crank_cable_mohm),
    )


def _access_point(row: models.AccessPoint) -> core.AccessPoint:
    return core.AccessPoint(
        key=row.key,
        name=row.name,
        zone=row.zone,
        allowance_a=float(row.allowance_a),
        function=row.function,
        polarity=words.Polarity(row.polarity),
        hot_when=words.HotWhen(row.hot_when),
        device_rating_a=optional(row.device_rating_a),
        group=row.group,
        group_allowance_a=optional(row.group_allowance_a),
        guide=row.guide,
        peak_allowance_a=optional(row.peak_allowance_a),
        source=row.source,
        device_family=row.device_family,
        gauge=row.gauge,
        length_m=optional(row.length_m),
        resistance_mohm=optional(row.resistance_mohm),
    )
