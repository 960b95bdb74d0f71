<?xml version="1.0" encoding="UTF-8"?>
<StyledLayerDescriptor version="1.1.0" xmlns="http://www.opengis.net/sld" xmlns:se="http://www.opengis.net/se" xmlns:ogc="http://www.opengis.net/ogc">
<NamedLayer><se:Name>{{ table }}</se:Name><UserStyle><se:Name>{{ table }}</se:Name><se:CoverageStyle><se:Rule><se:RasterSymbolizer><se:Opacity>0.8</se:Opacity>
<se:ColorMap><se:Interpolate fallbackValue="{{ points[0][1] }}" mode="linear" method="color"><se:LookupValue>Rasterdata</se:LookupValue>
{% for value, colour in points %}<se:InterpolationPoint><se:Data>{{ value }}</se:Data><se:Value>{{ colour }}</se:Value></se:InterpolationPoint>{% endfor %}
</se:Interpolate></se:ColorMap></se:RasterSymbolizer></se:Rule></se:CoverageStyle></UserStyle></NamedLayer></StyledLayerDescriptor>
