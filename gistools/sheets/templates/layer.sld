<?xml version="1.0" encoding="UTF-8"?>
{% macro parameters(element, values) %}<se:{{ element }}>{% for k, v in values.items() %}<se:SvgParameter name="{{ k }}">{{ v }}</se:SvgParameter>{% endfor %}</se:{{ element }}>{% endmacro %}
{% macro stroke(colour, dashed) %}{{ parameters("Stroke", {"stroke": colour, "stroke-width": "%.2f" % (style.width / 0.28)} | combined({"stroke-dasharray": "6 3"} if dashed else {})) }}{% endmacro %}
{# Widths are in the standard's pixels of 0.28 mm. #}
{% macro symbolizer(colour, dashed=style.dashed) %}
{% if family == "Polygon" %}<se:PolygonSymbolizer>{{ parameters("Fill", {"fill": colour, "fill-opacity": "%g" % style.fill_opacity}) }}{{ stroke(colour, dashed) }}</se:PolygonSymbolizer>
{% elif family == "LineString" %}<se:LineSymbolizer>{{ stroke(colour, dashed) }}</se:LineSymbolizer>
{% else %}<se:PointSymbolizer><se:Graphic><se:Mark><se:WellKnownName>circle</se:WellKnownName>{{ parameters("Fill", {"fill": colour}) }}</se:Mark><se:Size>{{ "%.2f" % (style.width / 0.28) }}</se:Size></se:Graphic></se:PointSymbolizer>
{% endif %}
{% if label %}<se:TextSymbolizer><se:Label><ogc:PropertyName>{{ label }}</ogc:PropertyName></se:Label><se:Font><se:SvgParameter name="font-size">11</se:SvgParameter></se:Font>{{ parameters("Fill", {"fill": "#1f2a2e"}) }}</se:TextSymbolizer>{% endif %}
{% endmacro %}
<StyledLayerDescriptor version="1.1.0" xmlns="http://www.opengis.net/sld" xmlns:se="http://www.opengis.net/se" xmlns:ogc="http://www.opengis.net/ogc">
<NamedLayer><se:Name>{{ writes.table }}</se:Name><UserStyle><se:Name>{{ writes.table }}</se:Name><se:FeatureTypeStyle>
{% for word, colour, dashed in style.kinds %}
<se:Rule><se:Name>{{ word }}</se:Name><ogc:Filter><ogc:PropertyIsEqualTo><ogc:PropertyName>{{ style.by }}</ogc:PropertyName><ogc:Literal>{{ word }}</ogc:Literal></ogc:PropertyIsEqualTo></ogc:Filter>
{{ symbolizer(colour, dashed) }}</se:Rule>
{% endfor %}
{% for low, high, colour in classes %}
<se:Rule><se:Name>{{ low }} to {{ high }}</se:Name><ogc:Filter><ogc:PropertyIsBetween><ogc:PropertyName>{{ style.by }}</ogc:PropertyName><ogc:LowerBoundary><ogc:Literal>{{ low }}</ogc:Literal></ogc:LowerBoundary><ogc:UpperBoundary><ogc:Literal>{{ high }}</ogc:Literal></ogc:UpperBoundary></ogc:PropertyIsBetween></ogc:Filter>
{{ symbolizer(colour) }}</se:Rule>
{% endfor %}
{% if not classes and not style.kinds %}
<se:Rule><se:Name>{{ writes.layer.replace("_", " ") }}</se:Name>
{{ symbolizer(style.colour) }}</se:Rule>
{% endif %}
</se:FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>
