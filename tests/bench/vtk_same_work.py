"""The shared work on one STL file with VTK (Debian: python3-vtk9): vtk_same_work.py FILE PLANES"""

import json
import resource
import sys
import time

from vtkmodules.vtkCommonDataModel import vtkPlane
from vtkmodules.vtkFiltersCore import (
    vtkAppendPolyData,
    vtkCleanPolyData,
    vtkConnectivityFilter,
    vtkFeatureEdges,
    vtkMassProperties,
    vtkPlaneCutter,
    vtkPolyDataConnectivityFilter,
    vtkStripper,
)
from vtkmodules.vtkIOGeometry import vtkSTLReader

file, planes = sys.argv[1:3]
with open(planes) as f:
    wanted = json.load(f)
result = {}
last = time.perf_counter()
last_processor = time.process_time()


def lap(name):
    global last, last_processor
    now, processor = time.perf_counter(), time.process_time()
    result[name + " s"] = now - last
    result[name + ", processor s"] = processor - last_processor
    last, last_processor = now, processor


reader = vtkSTLReader()
reader.SetFileName(file)
reader.MergingOn()
reader.Update()
mesh = reader.GetOutput()
lap("read and weld")

edges = vtkFeatureEdges()
edges.SetInputData(mesh)
edges.FeatureEdgesOff()
edges.BoundaryEdgesOn()
edges.NonManifoldEdgesOn()
edges.Update()
parts = vtkConnectivityFilter()
parts.SetInputData(mesh)
parts.SetExtractionModeToAllRegions()
parts.Update()
if edges.GetOutput().GetNumberOfCells() != 0 or parts.GetNumberOfExtractedRegions() != 1:
    sys.exit("the tube is not closed")
lap("components and edges")

mass = vtkMassProperties()
mass.SetInputData(mesh)
mass.Update()
volume, area = mass.GetVolume(), mass.GetSurfaceArea()
lap("volume and area")

# the plane cuts the whole mesh over a tree that is built once, in pieces that are put together; then the outline about
# the point is kept and joined, and its area taken
plane = vtkPlane()
cutter = vtkPlaneCutter()
cutter.SetPlane(plane)
cutter.SetInputData(mesh)
cutter.BuildTreeOn()
cutter.ComputeNormalsOff()
cutter.InterpolateAttributesOff()
clean = vtkCleanPolyData()
near = vtkPolyDataConnectivityFilter()
near.SetInputConnection(clean.GetOutputPort())
near.SetExtractionModeToClosestPointRegion()
joined = vtkStripper()
joined.SetInputConnection(near.GetOutputPort())
joined.JoinContiguousSegmentsOn()
cut, area_sum = 0, 0.0
for section in wanted:
    p, n = section["point"], section["normal"]
    plane.SetOrigin(p)
    plane.SetNormal(n)
    plane.Modified()
    cutter.Update()
    pieces = cutter.GetOutputDataObject(0)
    if pieces.IsA("vtkPolyData"):  # newer releases put the pieces together themselves
        clean.SetInputData(pieces)
    else:
        together = vtkAppendPolyData()
        for i in range(pieces.GetNumberOfPartitions()):
            together.AddInputData(pieces.GetPartition(i))
        clean.SetInputConnection(together.GetOutputPort())
    near.SetClosestPoint(p)
    joined.Update()
    outline = joined.GetOutput()
    if outline.GetNumberOfLines() == 0:
        continue
    cut += 1
    ids = outline.GetCell(0).GetPointIds()
    points = outline.GetPoints()
    ring = [points.GetPoint(ids.GetId(i)) for i in range(ids.GetNumberOfIds())]
    sx = sy = sz = 0.0
    o = ring[0]
    for a, b in zip(ring, ring[1:]):
        ax, ay, az = a[0] - o[0], a[1] - o[1], a[2] - o[2]
        bx, by, bz = b[0] - o[0], b[1] - o[1], b[2] - o[2]
        sx += ay * bz - az * by
        sy += az * bx - ax * bz
        sz += ax * by - ay * bx
    area_sum += abs(sx * n[0] + sy * n[1] + sz * n[2]) / 2
lap("200 sections")

result.update(
    {
        "volumeMm3": volume,
        "areaMm2": area,
        "sections": cut,
        "meanSectionMm2": area_sum / max(cut, 1),
        "peak MB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }
)
print(json.dumps(result))
