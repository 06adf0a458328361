package right

// Act is something that a person may want to do: a row of the matrix.
type Act string

// Acts.
const (
	SeeJobs            Act = "see jobs"
	SeeJob             Act = "see a job"
	BeginJob           Act = "begin a job"
	DescribeVehicle    Act = "describe the vehicle"
	RecordReadings     Act = "record readings"
	AddEvidence        Act = "add evidence"
	EnterFindings      Act = "enter findings"
	WithdrawFinding    Act = "withdraw a finding"
	WithdrawEntry      Act = "withdraw an entry"
	Choose             Act = "choose"
	AskManufacturer    Act = "ask the manufacturer"
	FileAnswer         Act = "file an answer"
	Plan               Act = "plan"
	UseRates           Act = "use rates"
	SetRates           Act = "set rates"
	CompareLoss        Act = "compare with total loss"
	SetLossLimit       Act = "set the limit of total loss"
	SendToReview       Act = "send to review"
	Approve            Act = "approve"
	SendBack           Act = "send back"
	RecordWork         Act = "record work"
	RecordInspection   Act = "record an inspection"
	Release            Act = "release"
	OpenRevision       Act = "open a revision"
	HandOver           Act = "hand a job over"
	MakeLink           Act = "make a link"
	RevokeLink         Act = "revoke a link"
	ReadReport         Act = "read a report"
	DownloadJob        Act = "download a job"
	SeeInternal        Act = "see what is internal"
	ReadHistory        Act = "read the history"
	Assess             Act = "assess"
	DeleteDraft        Act = "delete a draft"
	DeleteApproved     Act = "delete what is approved"
	AgreeErasure       Act = "agree to an erasure"
	CarryOutErasure    Act = "carry out an erasure"
	HoldJob            Act = "hold a job"
	EndHold            Act = "end a hold"
	SeeBodies          Act = "see bodies and procedures"
	LoadBody           Act = "load a body or procedure"
	PutIntoForce       Act = "put a procedure into force"
	SeePeople          Act = "see people"
	ManagePeople       Act = "manage people"
	GiveRoles          Act = "give roles"
	MakeToken          Act = "make a token"
	RevokeToken        Act = "revoke a token"
	ManageTokens       Act = "manage tokens"
	SeeAccount         Act = "see the own account"
	ChangeSignIn       Act = "change the own sign-in"
	EndSessions        Act = "end the own sessions"
	ProveOneself       Act = "prove who one is"
	ChooseShop         Act = "go on in another shop"
	JoinOrLeave        Act = "join or leave a shop"
	ChangeSettings     Act = "change settings"
	ChangeGroup        Act = "change settings of the group"
	SeeTasks           Act = "see work in the background"
	StopTasks          Act = "stop work in the background"
	ReadSecurityLog    Act = "read the security log"
	VerifyLog          Act = "verify the log"
	LookAfterStore     Act = "look after the store"
	BackUp             Act = "back up"
	Restore            Act = "restore"
	Upgrade            Act = "upgrade"
	ActAsAnotherPerson Act = "act as another person" // nobody may; there is no such thing
)

// acts is all of them, in the order of the matrix.
var acts = []Act{
	SeeJobs, SeeJob, BeginJob, DescribeVehicle, RecordReadings, AddEvidence, EnterFindings, WithdrawFinding, WithdrawEntry, Choose,
	AskManufacturer, FileAnswer, Plan, UseRates, SetRates, CompareLoss, SetLossLimit, SendToReview,
	Approve, SendBack, RecordWork, RecordInspection, Release, OpenRevision, HandOver, MakeLink, RevokeLink, ReadReport, DownloadJob,
	SeeInternal, ReadHistory, Assess, DeleteDraft, DeleteApproved, AgreeErasure, CarryOutErasure, HoldJob, EndHold, SeeBodies,
	LoadBody, PutIntoForce, SeePeople, ManagePeople, GiveRoles, MakeToken, RevokeToken, ManageTokens, SeeAccount, ChangeSignIn,
	EndSessions, ProveOneself, ChooseShop, JoinOrLeave, ChangeSettings, ChangeGroup, SeeTasks, StopTasks, ReadSecurityLog, VerifyLog, LookAfterStore, BackUp, Restore,
	Upgrade, ActAsAnotherPerson,
}
