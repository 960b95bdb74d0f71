<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>
{% macro options(values) %}<Option type="Map">{% for k, v in values | dictsort %}<Option name="{{ k }}" type="QString" value="{{ v }}"/>{% endfor %}</Option>{% endmacro %}
{% macro size_from(property) %}{% if style.metres %}<data_defined_properties><Option type="Map"><Option name="name" type="QString" value=""/><Option name="properties" type="Map"><Option name="{{ property }}" type="Map"><Option name="active" type="bool" value="true"/><Option name="field" type="QString" value="{{ style.metres }}"/><Option name="type" type="int" value="2"/></Option></Option><Option name="type" type="QString" value="collection"/></Option></data_defined_properties>{% endif %}{% endmacro %}
{% macro symbol(number, colour, dashed=style.dashed) %}
{% set line = "dash" if dashed else "solid" %}{% set unit = "RenderMetersInMapUnits" if style.metres else "MM" %}{% set width = "%g" % style.width %}
{% set kind = {"Polygon": "fill", "LineString": "line", "Point": "marker"}[family] %}
<symbol name="{{ number }}" type="{{ kind }}" alpha="1" clip_to_extent="1" force_rhr="0">
{% if kind == "fill" %}
<layer class="SimpleFill" enabled="1" pass="0" locked="0">{{ options({"color": colour | rgba(style.fill_opacity), "outline_color": (style.edge or colour) | rgba, "outline_style": line, "outline_width": width, "outline_width_unit": "MM", "style": "solid" if style.fill_opacity else "no"}) }}</layer>
{% elif kind == "line" %}
<layer class="SimpleLine" enabled="1" pass="0" locked="0">{{ options({"line_color": colour | rgba, "line_style": line, "line_width": width, "line_width_unit": unit}) }}{{ size_from("outlineWidth") }}</layer>
{% else %}
<layer class="SimpleMarker" enabled="1" pass="0" locked="0">{{ options({"color": colour | rgba, "name": "circle", "outline_color": "255,255,255,255", "outline_width": "0.1", "size": width, "size_unit": unit}) }}{{ size_from("size") }}</layer>
{% endif %}
</symbol>
{% endmacro %}
<qgis version="3.22.0" styleCategories="Symbology|Labeling|Fields" labelsEnabled="{{ 1 if label else 0 }}">
{% if classes %}
<renderer-v2 type="graduatedSymbol" attr="{{ style.by }}" graduatedMethod="GraduatedColor" symbollevels="0" enableorderby="0">
<ranges>{% for low, high, _ in classes %}<range lower="{{ low }}" upper="{{ high }}" symbol="{{ loop.index0 }}" label="{{ low }} to {{ high }}" render="true"/>{% endfor %}</ranges>
<symbols>{% for _, _, colour in classes %}{{ symbol(loop.index0, colour) }}{% endfor %}</symbols></renderer-v2>
{% elif style.kinds %}
<renderer-v2 type="categorizedSymbol" attr="{{ style.by }}" symbollevels="0" enableorderby="0">
<categories>{% for word, _, _ in style.kinds %}<category value="{{ word }}" type="string" symbol="{{ loop.index0 }}" label="{{ word }}" render="true"/>{% endfor %}</categories>
<symbols>{% for _, colour, dashed in style.kinds %}{{ symbol(loop.index0, colour, dashed) }}{% endfor %}</symbols></renderer-v2>
{% else %}
<renderer-v2 type="singleSymbol" symbollevels="0" enableorderby="0"><symbols>{{ symbol(0, style.colour) }}</symbols></renderer-v2>
{% endif %}
{% if label %}
{% set placement = {"Point": {"placement": 6, "dist": 0.8}, "LineString": {"placement": 2, "placementFlags": 10, "dist": 0.6}, "Polygon": {"placement": 4}}[family] %}
<labeling type="simple"><settings calloutType="simple">
<text-style fieldName="{% if style.once %}if($id = minimum($id, group_by := concat(hole, '/', {{ label }})), {{ label }}, ''){% else %}{{ label }}{% endif %}" isExpression="{{ 1 if style.once else 0 }}" fontSize="8" fontSizeUnit="Point" textColor="31,42,46,255" fontFamily="Sans Serif" textOpacity="1"><text-buffer bufferDraw="1" bufferSize="0.7" bufferSizeUnits="MM" bufferColor="255,255,255,255" bufferOpacity="0.75"/></text-style>
<placement {{ placement | xmlattr }} distUnits="MM"/><rendering obstacle="0" scaleVisibility="0" mergeLines="1"/></settings></labeling>
{% endif %}
<aliases>{% for c in writes.columns %}<alias field="{{ c.name }}" index="{{ loop.index0 }}" name="{{ c.title }}"/>{% endfor %}</aliases></qgis>
