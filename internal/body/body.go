// Package body owns the published data of one body variant, as the shop is
// licensed to hold it: control points, parts, joints, access, castings with
// their zones, section lines, treatments, materials and the manufacturer's
// procedures by revision.
//
// A body is immutable once decoded. Decode tells every fault of every file at
// once, with file, line and column, and refuses what does not hold together.
// The package knows nothing of a damaged vehicle: that is package job.
package body

import (
	"fettle/internal/geom"
	"fettle/internal/unit"
)

// Format is the version of the body folder this program writes and reads.
const Format = "fettle-body 1"

// Identities. Each is unique within its list and made of letters, digits, '-',
// '_' and '.'.
type (
	PointID     string
	PartID      string
	JointID     string
	CastingID   string
	ZoneID      string
	MapID       string
	LineID      string
	TreatmentID string
	MaterialID  string
	TaskID      string
	SectionID   string
	ProcedureID string
	SkillID     string // a labour class; the shop sets its rate
	BayKind     string // a kind of place; the shop says how many it has
)

// Body is one body variant.
type Body struct {
	Format     string      `doc:"format,required" help:"the line 'fettle-body 1'" oneof:"fettle-body 1"`
	ID         string      `doc:"id,required" help:"short name of the body variant"`
	Name       string      `doc:"name,required" help:"what people call it"`
	Revision   string      `doc:"revision,required" help:"revision of these data, as published"`
	Source     string      `doc:"source,required" help:"where the data come from and under which licence the shop holds them"`
	Invented   bool        `doc:"invented" help:"yes when this is no real vehicle; every report then says so"`
	Currency   string      `doc:"currency,required" help:"three-letter code of all prices in the body"`
	Axes       Axes        `doc:"axes" help:"direction of the vehicle axes; x rearward, y right, z up unless given"`
	LoadState  string      `doc:"load_state,required" help:"'loaded' (drive line in) or 'unloaded': the state the point data are for" oneof:"loaded|unloaded"`
	Confidence unit.Frac   `doc:"confidence" help:"probability a limit has to be met with; 95 % unless given, never less"`
	Thermal    *Thermal    `doc:"thermal" help:"temperature the point data are for, and how the structure grows with it"`
	VIN        VINPattern  `doc:"vin" help:"which vehicle identification numbers the body is for"`
	Sections   []Section   `doc:"sections" help:"parts of the structure that can move as one"`
	Castings   []Casting   `doc:"castings,required"`
	Lines      []Line      `doc:"section_lines" help:"where the manufacturer permits a casting to be cut"`
	Joints     []Joint     `doc:"joints"`
	Access     []Access    `doc:"access" help:"what has to come off before something can be reached"`
	Triggers   []Trigger   `doc:"triggers" help:"tasks that taking a part off brings with it"`
	Treatments []Treatment `doc:"treatments,required"`
	Tasks      []Task      `doc:"tasks" help:"steps that a job needs once, whatever asks for them"`
	Materials  []Material  `doc:"materials"`
	Paint      []Coating   `doc:"paint" help:"what is done to the surfaces of every part that is new or was worked on"`
	Blends     []Blend     `doc:"blends" help:"neighbours into which the colour runs out"`
	HeatLimits []HeatLimit `doc:"heat_limits" help:"how warm parts and adhesives may get; what has none must not be heated"`
	Inspect    []Area      `doc:"inspection" help:"areas of the castings to be inspected, and how"`

	Assemblies []Assembly    `doc:"assemblies" help:"parts that can come off as one piece; access to one is given in 'access' under its own name, or is that of its parts"`
	Refits     []Refit       `doc:"refit" help:"what has to be back on before a part"`
	Bounds     []RivetBounds `doc:"rivet_bounds" help:"published least distances of rivets that a layout is checked with"`
	Apart      []Apart       `doc:"keep_apart" help:"pairs of metals that have to be kept apart where they are joined; []: none has to be; left out: it is not known which"`

	Points     []Point     `doc:"-"` // points.csv
	Parts      []Part      `doc:"-"` // parts.csv
	Procedures []Procedure `doc:"-"` // procedures/*.yaml, by revision

	at places // where each field stands in its file, for messages
}

// Direction is where an axis of the vehicle points.
type Direction string

// Directions of the vehicle's axes that turn what is drawn or said.
const (
	Forward Direction = "forward"
	Left    Direction = "left"
	Down    Direction = "down"
)

// Axes are the directions of the vehicle axes in words.
type Axes struct {
	X Direction `doc:"x" json:"x" help:"rearward or forward" oneof:"rearward|forward"`
	Y Direction `doc:"y" json:"y" help:"right or left" oneof:"right|left"`
	Z Direction `doc:"z" json:"z" help:"up or down" oneof:"up|down"`
}

// VINPattern says which vehicles the body is for.
type VINPattern struct {
	StartsWith string `doc:"starts_with" help:"first characters of the vehicle identification number"`
	CheckDigit bool   `doc:"check_digit" help:"yes when position 9 is a check digit"`
}

// Section is a part of the structure that can move as one: front, rear, cell.
type Section struct {
	ID    SectionID `doc:"id,required"`
	Name  string    `doc:"name,required"`
	About geom.Vec  `doc:"about_mm" help:"point its motion is reported about [mm, mm, mm]"`
}

// Point is a control point: a row of points.csv.
type Point struct {
	ID        PointID             `doc:"id,required"`
	X         float64             `doc:"x_mm,required"`
	Y         float64             `doc:"y_mm,required"`
	Z         float64             `doc:"z_mm,required"`
	Tol       unit.Maybe[float64] `doc:"tol_mm" help:"radial tolerance: the point may be this far off in any direction"`
	TolX      unit.Maybe[float64] `doc:"tol_x_mm" help:"tolerance along x; with tol_y_mm and tol_z_mm instead of tol_mm"`
	TolY      unit.Maybe[float64] `doc:"tol_y_mm"`
	TolZ      unit.Maybe[float64] `doc:"tol_z_mm"`
	Std       unit.Maybe[float64] `doc:"std_mm" help:"manufacturing spread per coordinate, as a standard deviation"`
	Section   SectionID           `doc:"section" help:"section of the structure it belongs to"`
	Mirror    PointID             `doc:"mirror" help:"its twin on the other side"`
	Reference bool                `doc:"reference" help:"yes: the manufacturer nominates it as reference point"`
	Name      string              `doc:"name"`
	Part      PartID              `doc:"part" help:"part the point is on"`
}

// At is the nominal position in vehicle axes.
func (p Point) At() geom.Vec { return geom.Vec{p.X, p.Y, p.Z} }

// PartKind is what kind of part a part is.
type PartKind string

// Kinds of part that are treated in a way of their own.
const (
	PartCasting PartKind = "casting"
	PartPiece   PartKind = "piece" // a service piece of a casting
	PartPanel   PartKind = "panel"
	PartModule  PartKind = "module"
	PartBattery PartKind = "battery" // the high-voltage battery
)

// Part is one part of the vehicle: a row of parts.csv.
type Part struct {
	ID       PartID        `doc:"id,required"`
	Name     string        `doc:"name,required"`
	Kind     PartKind      `doc:"kind,required" help:"panel, trim, bracket, casting, piece (a service piece of a casting), module, battery (the high-voltage one) or other" oneof:"panel|trim|bracket|casting|piece|module|battery|other"`
	Price    unit.Money    `doc:"price,required" help:"price of a new one, for example 310.00 EUR"`
	Mass     unit.Kilogram `doc:"mass" help:"for example 3.2 kg"`
	Material string        `doc:"material" help:"in words"`
	Metal    Metal         `doc:"metal" help:"what it is made of, for what it touches: aluminium, magnesium, steel, 'zinc-coated steel', 'stainless steel', titanium, 'carbon fibre', other (that conducts) or none (that does not); left out: not known" oneof:"aluminium|magnesium|steel|zinc-coated steel|stainless steel|titanium|carbon fibre|other|none"`
	BoltOn   bool          `doc:"bolt_on" help:"yes: can be changed without welding, cutting or bonding"`
	OneTime  bool          `doc:"one_time" help:"yes: must not be used again once taken off"`
	Off      unit.Minutes  `doc:"off" help:"handling to take it off, beside the joints"`
	On       unit.Minutes  `doc:"on" help:"handling to put it back, beside the joints"`
	Skill    SkillID       `doc:"skill,required" help:"who takes it off and puts it back"`
	Tool     string        `doc:"tool" help:"main tool it is taken off and put back with, in the same words everywhere"`
	Side     string        `doc:"side" help:"where one stands: left, right, front, rear, inside or below" oneof:"left|right|front|rear|inside|below"`
	Lift     string        `doc:"lift" help:"height of the lift: down, half or up" oneof:"down|half|up"`
	Comes    ComesOff      `doc:"comes_off" help:"no: it cannot be taken out of the vehicle, which is built on it; freely: no joint holds it, and its off and on minutes are all it takes; nothing: its joints say how" oneof:"no|freely"`
	Rolls    YesNo         `doc:"rolls" help:"no: while it is off the vehicle does not roll on its wheels; yes, or nothing: it still does" oneof:"yes|no"`
	// Delivery is not known where nobody gives it: then nothing that needs a new one has a date.
	Delivery unit.Maybe[unit.Minutes] `doc:"delivery" help:"time until a new one arrives, for example 3 d (calendar days): the likely one, which dates are reckoned with; 0 d: the shop has one; where none is given, nothing that needs a new one has a date"`

	DeliveryLow  unit.Minutes `doc:"delivery_low" help:"the shortest time in which a new one ever arrives; with delivery_high"`
	DeliveryHigh unit.Minutes `doc:"delivery_high" help:"the longest time until a new one arrives; with delivery_low"`

	// Outer and Inner are not known where nobody gives them: then what is reckoned by them has no time, amount or price.
	Outer unit.Maybe[unit.SquareMetre] `doc:"outer_area" help:"area of its outside that is painted, for example 0.62 m2; 0 m2: it is not painted; left out: nobody knows"`
	Inner unit.Maybe[unit.SquareMetre] `doc:"inner_area" help:"area of its inside, flanges and cavities that are protected against corrosion; 0 m2: none is; left out: nobody knows"`
}

// JoinMethod is a way of joining parts.
type JoinMethod string

// Ways of joining that rules name. The length of a joint is asked for with the last three.
const (
	JoinSelfPiercing JoinMethod = "self-piercing rivet"
	JoinBlindRivet   JoinMethod = "blind rivet"
	JoinAdhesive     JoinMethod = "adhesive"
	JoinWeld         JoinMethod = "weld"
	JoinHem          JoinMethod = "hem"
)

// Joint holds parts together. Layers go from the outside inward.
type Joint struct {
	ID       JointID          `doc:"id,required"`
	Name     string           `doc:"name,required"`
	Layers   []PartID         `doc:"layers,required" help:"parts it holds together, the outermost first"`
	Methods  []JoinMethod     `doc:"methods,required" help:"bolt, clip, plug, self-piercing rivet, blind rivet, adhesive, weld, hem" oneof:"bolt|clip|plug|self-piercing rivet|blind rivet|adhesive|weld|hem"`
	Count    int              `doc:"count" help:"number of fasteners"`
	Length   unit.MM          `doc:"length" help:"length of a bonded, welded or hemmed joint"`
	Destroys []PartID         `doc:"destroys" help:"parts lost when it is opened"`
	Open     unit.Minutes     `doc:"open,required"`
	Refit    unit.Minutes     `doc:"refit,required"`
	GlueOpen unit.Minutes     `doc:"glue_open" help:"of the refit, the minutes from the first bead until the last fastener is set, in the longest stage the manufacturer permits"`
	Skill    SkillID          `doc:"skill,required"`
	Bay      BayKind          `doc:"bay"`
	Uses     []Use            `doc:"uses" help:"materials to close it again"`
	Along    [][]geom.Vec     `doc:"along_mm" help:"where it lies on a casting: lines and spots, each a list of points in vehicle axes [[[x, y, z], ...], ...]"`
	Cures    MaterialID       `doc:"cures" help:"adhesive that has to cure before the vehicle is moved on"`
	Torque   unit.NewtonMetre `doc:"torque"`
	Second   bool             `doc:"second_person" help:"yes: the hold point is passed by somebody else than who closed it"`
	Hold     string           `doc:"hold_point" help:"what has to be inspected after it is closed, before anyone goes on"`
	Readings []Reading        `doc:"readings" help:"figures to be written down when it is closed"`
	Cite     string           `doc:"cite" help:"document, revision and page"`

	Before        []Step `doc:"before_closing" help:"steps before it is closed, in order, while its parts are off: cleaning, priming, isolating; minutes and materials go by its length and its count of fasteners"`
	After         []Step `doc:"after_closing" help:"steps after it is closed, in order, before anything covers it: sealing, coating the heads of fasteners"`
	FastenerMetal Metal  `doc:"fastener_metal" help:"what its fasteners are made of that are no material of 'uses'" oneof:"aluminium|magnesium|steel|zinc-coated steel|stainless steel|titanium|carbon fibre|other|none"`
	Isolates      bool   `doc:"isolates" help:"yes: closed as it is written here, it keeps apart all that it joins"`
}

// Access says what has to be off before a target can be reached. The
// alternatives are an OR of ANDs: any one list of parts will do. No list at all says that nothing
// has to be off; no entry says nothing.
type Access struct {
	To    string     `doc:"to,required" help:"a part, a zone or a section line"`
	Needs [][]PartID `doc:"needs,required" help:"alternative lists of parts that must be off: any one list will do; [] where nothing has to be off"`
	Cite  string     `doc:"cite"`
}

// Assembly is parts that can come off as one piece. What joins them to one
// another stays closed. It is used only when none of its parts has to come off
// for its own sake and no joint that it opens destroys one of them.
type Assembly struct {
	ID    PartID       `doc:"id,required" help:"its own name, no other part has it"`
	Name  string       `doc:"name,required"`
	Parts []PartID     `doc:"parts,required" help:"parts that stay together; none is used once only"`
	Off   unit.Minutes `doc:"off" help:"handling to take it off, beside the joints that hold it"`
	On    unit.Minutes `doc:"on" help:"handling to put it back"`
	Skill SkillID      `doc:"skill,required"`
	Tool  string       `doc:"tool"`
	Side  string       `doc:"side" oneof:"left|right|front|rear|inside|below"`
	Lift  string       `doc:"lift" oneof:"down|half|up"`
	Cite  string       `doc:"cite"`
}

// Refit says what has to be back on before a part, beside what the way it came
// off says already.
type Refit struct {
	Part  PartID   `doc:"part,required"`
	After []PartID `doc:"after,required" help:"parts that have to be back on before"`
	Cite  string   `doc:"cite"`
}

// Trigger is a task that taking a part off brings with it.
type Trigger struct {
	Part   PartID   `doc:"part,required"`
	Before []TaskID `doc:"before" help:"tasks to be done before it comes off"`
	After  []TaskID `doc:"after" help:"tasks to be done after it is back on"`
}

// Casting is one large casting: its mesh, zones and features.
type Casting struct {
	ID       CastingID `doc:"id,required"`
	Part     PartID    `doc:"part,required"`
	Name     string    `doc:"name,required"`
	Mesh     string    `doc:"mesh" help:"mesh file in this folder: STL, PLY, OBJ or GLB; left out where there is none, and what lies on the casting is measured by hand"`
	MeshUnit string    `doc:"mesh_unit" help:"with a mesh: mm, cm, m or in: never guessed" oneof:"mm|cm|m|in"`
	MeshStd  unit.MM   `doc:"mesh_std" help:"with a mesh: its standard uncertainty against the real casting"`
	Wall     unit.MM   `doc:"wall,required" help:"nominal wall thickness"`
	Alloy    string    `doc:"alloy"`
	Zones    []Zone    `doc:"zones,required"`
	Maps     []ZoneMap `doc:"zone_maps" help:"pictures on which its zones are drawn; shown where there is no mesh, and findings are pinned on them"`
	Bores    []Bore    `doc:"bores" help:"bores and holes that a crack may be near to"`
	Edges    []Edge    `doc:"edges" help:"where the casting's wall ends, as far as the mesh does not end there itself"`
	Earlier  []string  `doc:"-"`
}

// Zone is a region of a casting in the manufacturer's procedure.
type Zone struct {
	ID    ZoneID `doc:"id,required"`
	Label int    `doc:"label" help:"with a mesh: the number the faces carry in its file"`
	Name  string `doc:"name,required"`
	// LoadPath says that the zone carries crash or chassis loads.
	LoadPath   bool            `doc:"load_path" help:"yes when it carries crash or chassis loads"`
	Treatments []TreatmentKind `doc:"treatments" help:"treatments that the manufacturer's zone map gives for it; every other one is asked for, whatever a row allows; left out, the rows alone count" oneof:"leave|dress|straighten|weld|weld with backing plate|section|exchange bolt-on part|replace part|replace casting"`
	// Neighbours is asked for only where no mesh shows which zones meet.
	Neighbours []ZoneID `doc:"neighbours" help:"without a mesh: the zones it borders on, each named by the other too; left out, every other zone of the casting may be near"`
}

// Edge is a line at which the wall of a casting ends: a free edge.
type Edge struct {
	ID    string     `doc:"id,required"`
	Along []geom.Vec `doc:"along_mm,required" help:"points along it in vehicle axes [[x, y, z], ...]"`
}

// Bore is a hole with its axis.
type Bore struct {
	ID     string   `doc:"id,required"`
	At     geom.Vec `doc:"at_mm,required" help:"centre [mm, mm, mm]"`
	Axis   geom.Vec `doc:"axis" help:"direction of its axis"`
	Radius unit.MM  `doc:"radius,required"`
	Std    unit.MM  `doc:"std" help:"standard uncertainty of where its rim lies: of a bore found on a mesh; left out for one of a drawing"`
}

// Line is a section line: where the manufacturer permits the casting to be
// cut. It is one plane, several planes that meet in corners, or a closed curve
// on the surface. What lies on the side the normals point away from
// (n·x < offset, of all planes), or where TakenOff lies, is taken off and
// replaced by a service piece.
type Line struct {
	ID          LineID      `doc:"id,required"`
	Name        string      `doc:"name,required"`
	Casting     CastingID   `doc:"casting,required"`
	Normal      geom.Vec    `doc:"normal" help:"normal of the cutting plane; it points to the side that stays"`
	Offset      unit.MM     `doc:"offset" help:"the plane is n·x = offset"`
	Planes      []LinePlane `doc:"planes" help:"instead of normal and offset: several planes; what lies on the side that all normals point away from is taken off"`
	Curve       []geom.Vec  `doc:"curve_mm" help:"instead of planes: points round the casting on its surface, in order; the line is the shortest ways from each to the next and back to the first"`
	TakenOff    geom.Vec    `doc:"taken_off_mm" help:"with curve_mm: a point on the surface of what is taken off"`
	Within      Box         `doc:"within" help:"the line cuts only inside this box; all of the casting when left out"`
	Margin      unit.MM     `doc:"margin,required" help:"least distance between a finding and the line"`
	Piece       PartID      `doc:"piece,required" help:"service piece that replaces what is cut off"`
	Treatment   TreatmentID `doc:"treatment,required"`
	FlangeWidth unit.MM     `doc:"flange_width,required" help:"overlap of the joint across the cut"`
	Cite        string      `doc:"cite"`
}

// LinePlane is n·x = offset.
type LinePlane struct {
	Normal geom.Vec `doc:"normal,required" help:"it points to the side that stays"`
	Offset unit.MM  `doc:"offset,required"`
}

// Cuts is the planes of the line; none when it is a curve.
func (l Line) Cuts() []LinePlane {
	if len(l.Planes) > 0 || len(l.Curve) > 0 {
		return l.Planes
	}
	return []LinePlane{{l.Normal, l.Offset}}
}

// TakesOff says that a point of the casting lies on what a line of planes takes
// off. For a curve nobody knows without the mesh: never.
func (l Line) TakesOff(p geom.Vec) bool {
	if len(l.Curve) > 0 || !l.Within.Contains(p) {
		return false
	}
	for _, c := range l.Cuts() {
		if !(c.Normal.Dot(p) < float64(c.Offset)) {
			return false
		}
	}
	return true
}

// Box is an axis-aligned box in vehicle axes. Both corners zero means no
// limit.
type Box struct {
	Min geom.Vec `doc:"min_mm" help:"smallest x, y, z"`
	Max geom.Vec `doc:"max_mm" help:"largest x, y, z"`
}

// Unlimited says that no box was given.
func (b Box) Unlimited() bool { return b == Box{} }

// Contains says that p is inside or on the box.
func (b Box) Contains(p geom.Vec) bool {
	if b.Unlimited() {
		return true
	}
	for i := range p {
		if p[i] < b.Min[i] || p[i] > b.Max[i] {
			return false
		}
	}
	return true
}

// Area is a region of a casting to be inspected and the method it needs.
type Area struct {
	ID      string           `doc:"id,required"`
	Name    string           `doc:"name,required"`
	Casting CastingID        `doc:"casting,required"`
	Zone    ZoneID           `doc:"zone,required"`
	Method  InspectionMethod `doc:"method,required" help:"visual or penetrant" oneof:"visual|penetrant"`
	Finds   unit.MM          `doc:"finds,required" help:"shortest crack the method is relied on to find there"`
	Cite    string           `doc:"cite"`
}
