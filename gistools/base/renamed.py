"""Names that were used before, and what they are called now.

An old name is refused with the new one named.
"""

from __future__ import annotations

#: steps and result layers
LAYERS = {"played_carries": "effective_carries", "played_zones": "effective_zone_carries"}

#: settings -> what they are called now
SETTINGS = {
    "carry_beside_m": "carry_lateral_search_m",
    "carry_landing_m": "carry_minimum_landing_m",
    "blind_wider_pct": "blind_dispersion_increase_pct",
}
#: options, as ``step.option`` -> what they are called now
OPTIONS = {
    "brief.rows_from": "brief_file",
    "contours.heavy_every": "index_every",
    "contours.thin_m": "simplify_tolerance_m",
    "corridors.ends_m": "end_exclusion_m",
    "corridors.look_m": "search_distance_m",
    "flag_views.beside_m": "mesh_margin_m",
    "screening.crest_fid": "crest_feature_id",
}

_COLUMNS = """
lines_of_play: tee_fid=tee_feature_id bearing_deg=first_bearing_deg
carries: fid=feature_id again_m=next_reach_m
carry_fan: fid=feature_id again_m=next_reach_m
corridors: ground=line_surface
landing_widths: shot=full_shot ground=line_surface
diagonals: fid=feature_id angle_deg=axis_angle_deg share_pct=width_share_pct
zones: fid=feature_id length_m=zone_length_m width_m=zone_width_m from_m=from_chainage_m
zones: to_m=to_chainage_m
zone_carries: over=hazards_carried
setbacks: asked_m=clear_distance_m
setback_conflicts: fid=feature_id other_fid=other_feature_id distance_m=separation_m asked_m=clear_distance_m
setback_conflicts: short_m=shortfall_m
slopes: slope_pct=slope_mean_pct
green_slopes: fid=feature_id limit_pct=pin_slope_limit_pct critical_pct=critical_slope_pct edge_m=least_edge_m
green_slopes: fair_m2=fair_area_m2 slope_pct=slope_mean_pct
fair_areas: fid=feature_id
pin_slopes: fid=feature_id limit_pct=pin_slope_limit_pct edge_m=edge_distance_m
pin_slopes: critical_m=critical_distance_m
green_parts: kind=green_part place=part_location slope_pct=slope_mean_pct steepest_pct=slope_max_pct
green_parts: level_m=level_mean_m
flag_views: place=viewpoint distance_m=pin_distance_m layer=hidden_by_layer fid=hidden_by_feature_id
sightlines: distance_m=pin_distance_m layer=hidden_by_layer fid=hidden_by_feature_id
zone_views: seen_mean_pct=flag_seen_mean_pct seen_least_pct=flag_seen_least_pct layer=hidden_by_layer
zone_views: fid=hidden_by_feature_id
tee_views: seen_pct=zone_seen_pct view=visibility layer=hidden_by_layer fid=hidden_by_feature_id
where_to_play: shot_cleared_pct=shot_carried_pct
screening: fid=feature_id want=criterion crest_now_m=crest_existing_m change_m=crest_change_m
sections: kind=section_kind room_least_m=least_clearance_m room_least_at_m=least_clearance_at_m
section_points: kind=section_kind slope_pct=gradient_pct top_m=obstacle_top_m sight_m=sight_level_m
section_points: room_m=clearance_m
played_carries: fid=feature_id played_carry_m=effective_carry_m margin_m=carry_margin_m can_clear=can_carry
played_carries: clears_pct=carried_pct club=shortest_club
played_zones: played_centre_m=effective_centre_m played_must_carry_m=effective_must_carry_m
played_zones: margin_m=carry_margin_m can_clear=can_carry clears_pct=carried_pct over=hazards_carried
tee_shots: lost_pct=out_of_bounds_pct run_out_m=run_through_m run_mean_m=run_out_mean_m apex_m=apex_mean_m
tee_shots: descent_deg=descent_mean_deg club=surest_club
tee_shot_risks: ground=cover_class
shot_ellipses: club=surest_club
shot_ellipses: what=event share_pct=enclosed_pct long_m=ellipse_length_m wide_m=ellipse_width_m
finish_points: ground=cover_class club=surest_club
shot_paths: club=surest_club shot=path carry_m=shot_carry_m run_m=run_out_m
best_shots: left_m=pin_distance_m expected_strokes=remaining_strokes bearing_deg=aim_deg
best_shots: second_costs_strokes=second_cost_strokes
approaches: place=start share_pct=finish_share_pct plan_m=pin_distance_m played_m=effective_distance_m
approaches: bearing_deg=aim_deg angle_deg=green_angle_deg depth_m=green_depth_m width_m=green_width_m
approaches: over=hazards_carried camber_pct=landing_camber_pct fall_pct=landing_fall_pct
approaches: wider_pct=dispersion_increase_pct expected_strokes=remaining_strokes
positions: reward_rank=remaining_rank reward_strokes=remaining_strokes bearing_deg=aim_deg
positions: through_pct=run_through_pct hazard_pct=trouble_pct out_pct=out_of_bounds_pct dangers=hazards
choices: heroic_zone=high_risk_zone heroic_price_strokes=risk_cost_strokes
choices: heroic_buys_strokes=risk_gain_strokes order_changes=order_depends_on_pin
brief: asked=requirement
quantities: fid=feature_id kind=shape_kind area_m2=changed_area_m2 cut_m2=cut_area_m2 fill_m2=fill_area_m2
quantities: loose_m3=cut_loose_m3 needs_m3=fill_bank_m3 asked_m=requested_rise_m reached_m=reached_rise_m
quantities: slope_before_pct=existing_slope_max_pct slope_max_pct=proposed_slope_max_pct
quantities: limit_pct=shape_slope_limit_pct steeper_m2=steep_area_m2 no_ground_m2=nodata_area_m2
contours: ground=terrain level_m=contour_level_m heavy=index_contour
setting_out: fid=feature_id run=polyline_id seq=point_no meets=alignment_relation existing_m=existing_level_m
setting_out: proposed_m=proposed_level_m lift_m=cut_fill_m
control_check: fid=feature_id level_m=published_level_m de_m=delta_easting_m dn_m=delta_northing_m
control_check: dh_m=delta_height_m plan_m=delta_plan_m verdict=control_status
as_built_check: fid=feature_id level_m=measured_level_m design_m=design_level_m verdict=level_status
as_built_summary: point_count=points_count mean_m=mean_difference_m rms_m=rms_difference_m
as_built_summary: worst_m=worst_difference_m verdict=feature_status
"""


def _read(lines: str) -> dict[str, str]:
    columns = {}
    for line in filter(None, lines.splitlines()):
        layer, _, pairs = line.partition(": ")
        for old, new in (pair.split("=") for pair in pairs.split()):
            columns[f"{layer}.{old}"] = f"{LAYERS.get(layer, layer)}.{new}"
    return columns


#: ``layer.column`` -> what it is called now
COLUMNS = _read(_COLUMNS)


def renamed_measure(measure: str) -> str | None:
    """Return what ``layer.column`` is called now, or None if it has never been called otherwise."""
    layer, _, column = measure.partition(".")
    here = LAYERS.get(layer, layer)
    old = {new: name for name, new in LAYERS.items()}.get(here, here)
    known = COLUMNS.get(f"{old}.{column}")
    return known or (f"{here}.{column}" if layer in LAYERS else None)
